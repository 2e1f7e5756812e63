import { designBiquad } from '../signal/biquad.ts';
import { FilterEnergies } from '../signal/filter-energies.ts';

/** Steps of the level curves a second. */
export const CHECK_STEPS_PER_SEC = 20;
/** Below this there is handling, wind and traffic, and no note of a melody instrument: E1 of a double bass is 41 Hz. */
const RUMBLE_HZ = 35;
/** Above this a room's hum and rumble are gone; noise and tails are told apart here. */
const BRIGHT_HZ = 2000;

/** Levels per step of 50 ms. */
export interface LevelCurves {
  readonly stepSec: number;
  /** Mean squares of full scale 1. */
  readonly power: Float32Array;
  /** Largest magnitude in the step. */
  readonly peak: Float32Array;
}

/** With powers of parts of the sound. */
export interface CheckCurves extends LevelCurves {
  /** Below 35 Hz. */
  readonly lowPower: Float32Array;
  /** Above 2 kHz. */
  readonly brightPower: Float32Array;
}

/** Chains of the filters. */
const LOW = 0;
const BRIGHT = 1;

/** Gathers the level curves of a take in one pass. Memory: four numbers per 50 ms. */
export class CheckMeter {
  readonly #stepFrames: number;
  readonly #rateHz: number;
  readonly #filters: FilterEnergies;
  readonly #curves: number[][] = [[], [], [], []];
  #frames = 0;
  #stepTo: number;

  /** engine: 'plain' hears the same to the last bit. */
  constructor(rateHz: number, engine: 'kernel' | 'plain' = 'kernel') {
    this.#rateHz = rateHz;
    this.#stepFrames = Math.round(rateHz / CHECK_STEPS_PER_SEC);
    this.#stepTo = this.#stepFrames;
    const low = designBiquad({ kind: 'lowPass', hz: RUMBLE_HZ, q: Math.SQRT1_2 }, rateHz);
    const bright = designBiquad({ kind: 'highPass', hz: BRIGHT_HZ, q: Math.SQRT1_2 }, rateHz);
    this.#filters = new FilterEnergies(
      [
        [low, low],
        [bright, bright],
      ],
      engine,
    );
  }

  add(samples: Float32Array): void {
    for (let from = 0; from < samples.length; ) {
      const to = Math.min(samples.length, from + this.#stepTo - this.#frames);
      this.#filters.add(samples, from, to);
      this.#frames += to - from;
      from = to;
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

  #endStep(): void {
    const filters = this.#filters;
    const energies = [filters.takePower(), filters.takeEnergy(LOW), filters.takeEnergy(BRIGHT)];
    for (const [curve, energy] of energies.entries()) this.#curves[curve]!.push(energy / this.#stepFrames);
    this.#curves[3]!.push(filters.takePeak());
    this.#stepTo += this.#stepFrames;
  }
}
