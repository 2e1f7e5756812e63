import { BiquadCascade, designBiquad } from '../signal/biquad.ts';

/** Steps of the level curves a second. */
export const CHECK_STEPS_PER_SEC = 20;
/** Below this there is handling, wind and traffic, and no note of a melody instrument: E1 of a double bass is 41 Hz. */
const RUMBLE_HZ = 35;
/** Above this a room's hum and rumble are gone; noise and tails are told apart here. */
const BRIGHT_HZ = 2000;

/** Powers per step of 50 ms, mean squares of full scale 1. */
export interface CheckCurves {
  readonly stepSec: number;
  readonly power: Float32Array;
  /** Below 35 Hz. */
  readonly lowPower: Float32Array;
  /** Above 2 kHz. */
  readonly brightPower: Float32Array;
  /** Largest magnitude in the step. */
  readonly peak: Float32Array;
}

/** Gathers the level curves of a take in one pass. Memory: four numbers per 50 ms. */
export class CheckMeter {
  readonly #stepFrames: number;
  readonly #rateHz: number;
  readonly #low: BiquadCascade;
  readonly #bright: BiquadCascade;
  readonly #curves: number[][] = [[], [], [], []];
  readonly #sums = [0, 0, 0, 0];
  #inStep = 0;
  #lowed = new Float32Array(0);
  #brighted = new Float32Array(0);

  constructor(rateHz: number) {
    this.#rateHz = rateHz;
    this.#stepFrames = Math.round(rateHz / CHECK_STEPS_PER_SEC);
    const low = designBiquad({ kind: 'lowPass', hz: RUMBLE_HZ, q: Math.SQRT1_2 }, rateHz);
    const bright = designBiquad({ kind: 'highPass', hz: BRIGHT_HZ, q: Math.SQRT1_2 }, rateHz);
    this.#low = new BiquadCascade([low, low]);
    this.#bright = new BiquadCascade([bright, bright]);
  }

  add(samples: Float32Array): void {
    if (this.#lowed.length < samples.length) {
      this.#lowed = new Float32Array(samples.length);
      this.#brighted = new Float32Array(samples.length);
    }
    const low = this.#lowed.subarray(0, samples.length);
    const bright = this.#brighted.subarray(0, samples.length);
    low.set(samples);
    bright.set(samples);
    this.#low.process(low);
    this.#bright.process(bright);
    for (let from = 0; from < samples.length; ) {
      const to = Math.min(samples.length, from + this.#stepFrames - this.#inStep);
      this.#sum(samples, low, bright, from, to);
      this.#inStep += to - from;
      from = to;
      if (this.#inStep === this.#stepFrames) this.#endStep();
    }
  }

  /** Within one step; sums in variables of their own are several times as fast as in an array. */
  #sum(samples: Float32Array, low: Float32Array, bright: Float32Array, from: number, to: number): void {
    let [power, lowPower, brightPower, peak] = this.#sums as [number, number, number, number];
    for (let n = from; n < to; n++) {
      const x = samples[n]!;
      power += x * x;
      lowPower += low[n]! * low[n]!;
      brightPower += bright[n]! * bright[n]!;
      const magnitude = Math.abs(x);
      if (magnitude > peak) peak = magnitude;
    }
    this.#sums[0] = power;
    this.#sums[1] = lowPower;
    this.#sums[2] = brightPower;
    this.#sums[3] = peak;
  }

  result(): CheckCurves {
    const [power, lowPower, brightPower, peak] = this.#curves.map((curve) => Float32Array.from(curve));
    return {
      stepSec: this.#stepFrames / this.#rateHz,
      power: power!,
      lowPower: lowPower!,
      brightPower: brightPower!,
      peak: peak!,
    };
  }

  #endStep(): void {
    for (let curve = 0; curve < 3; curve++) this.#curves[curve]!.push(this.#sums[curve]! / this.#stepFrames);
    this.#curves[3]!.push(this.#sums[3]!);
    this.#sums.fill(0);
    this.#inStep = 0;
  }
}
