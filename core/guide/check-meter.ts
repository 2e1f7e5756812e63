import { kWeightingSections } from '../loudness/k-weighting.ts';
import { LoudnessSteps } from '../loudness/loudness-steps.ts';
import { designBiquad } from '../signal/biquad.ts';
import { type FilterChain, FilterEnergies } from '../signal/filter-energies.ts';

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

/** Chains of the filters. */
const LOW = 0;
const BRIGHT = 1;
const LOUD = 2;

/**
 * Gathers the level curves of a take in one pass and, where that is wanted, its loudness with them: filters that run together cost hardly more
 * than one. Memory: four numbers per 50 ms, with loudness two more per 100 ms.
 */
export class CheckMeter {
  readonly #stepFrames: number;
  readonly #rateHz: number;
  readonly #filters: FilterEnergies;
  readonly #curves: number[][] = [[], [], [], []];
  readonly #loudness: LoudnessSteps | undefined;
  #frames = 0;
  #stepTo: number;

  /** withLoudness: where `isLoudnessRate` says so. engine: 'plain' hears the same to the last bit. */
  constructor(rateHz: number, withLoudness = false, engine: 'kernel' | 'plain' = 'kernel') {
    this.#rateHz = rateHz;
    this.#stepFrames = Math.round(rateHz / CHECK_STEPS_PER_SEC);
    this.#stepTo = this.#stepFrames;
    const low = designBiquad({ kind: 'lowPass', hz: RUMBLE_HZ, q: Math.SQRT1_2 }, rateHz);
    const bright = designBiquad({ kind: 'highPass', hz: BRIGHT_HZ, q: Math.SQRT1_2 }, rateHz);
    const chains: FilterChain[] = [
      [low, low],
      [bright, bright],
    ];
    if (withLoudness) {
      const { shelf, lowCut } = kWeightingSections(rateHz);
      chains.push([shelf, lowCut]);
      this.#loudness = new LoudnessSteps(rateHz);
    }
    this.#filters = new FilterEnergies(chains, engine);
  }

  add(samples: Float32Array): void {
    for (let from = 0; from < samples.length; ) {
      const edge = Math.min(this.#stepTo, this.#loudness?.nextEdgeFrame ?? this.#stepTo);
      const to = Math.min(samples.length, from + edge - this.#frames);
      this.#filters.add(samples, from, to);
      this.#frames += to - from;
      from = to;
      if (this.#frames === this.#loudness?.nextEdgeFrame) this.#loudness.push(this.#filters.takeEnergy(LOUD));
      if (this.#frames === this.#stepTo) this.#endStep();
    }
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

  /** Gated loudness of the whole, LUFS, and the momentary one at (k + 1) / 10 s; undefined where it was not wanted. */
  loudness(): { readonly integratedLufs: number; readonly momentaryLufs: readonly number[] } | undefined {
    const steps = this.#loudness;
    return steps && { integratedLufs: steps.integratedLufs, momentaryLufs: steps.momentaryCurve() };
  }

  #endStep(): void {
    const filters = this.#filters;
    const energies = [filters.takePower(), filters.takeEnergy(LOW), filters.takeEnergy(BRIGHT)];
    for (const [curve, energy] of energies.entries()) this.#curves[curve]!.push(energy / this.#stepFrames);
    this.#curves[3]!.push(filters.takePeak());
    this.#stepTo += this.#stepFrames;
  }
}
