import { isLoudnessRate, kWeightingSections } from '../loudness/k-weighting.ts';
import { loudnessOf, momentaryPowers } from '../loudness/momentary.ts';
import type { FilterChain } from '../signal/filter-energies.ts';
import { StepEnergies } from '../signal/step-energies.ts';
import { CHECK_STEPS_PER_SEC, type LevelCurves } from './check-meter.ts';

const NOTHING = { b0: 0, b1: 0, b2: 0, a1: 0, a2: 0 };

/**
 * What judging a take needs of its levels, in one pass and one call a block: the level curves of a CheckMeter without those of its filters, and loudness
 * as a LoudnessMeter tells it, both to the last bit. Memory: 256 kB, and 240 bytes a second.
 */
export class TakeMeter {
  /** To be filled before `add`. */
  readonly room: Float32Array;
  readonly #energies: StepEnergies;
  readonly #stepFrames: number;
  readonly #rateHz: number;

  constructor(rateHz: number, engine: 'kernel' | 'plain' = 'kernel') {
    this.#rateHz = rateHz;
    this.#stepFrames = Math.round(rateHz / CHECK_STEPS_PER_SEC);
    this.#energies = new StepEnergies(weighting(rateHz), this.#stepFrames, rateHz, engine);
    this.room = this.#energies.room;
  }

  /** Takes the first `count` samples of `room`; gives their greatest magnitude. */
  add(count: number): number {
    return this.#energies.add(count);
  }

  curves(): LevelCurves {
    return { stepSec: this.#stepFrames / this.#rateHz, ...this.#energies.levels() };
  }

  /** Gated loudness of the whole, LUFS, and the momentary one at (k + 1) / 10 s; undefined at a rate at which it is not measured. */
  loudness(): { readonly integratedLufs: number; readonly momentaryLufs: readonly number[] } | undefined {
    if (!isLoudnessRate(this.#rateHz)) return undefined;
    return loudnessOf(momentaryPowers(this.#energies.tenths(), this.#rateHz));
  }
}

function weighting(rateHz: number): FilterChain {
  if (!isLoudnessRate(rateHz)) return [NOTHING, NOTHING];
  const { shelf, lowCut } = kWeightingSections(rateHz);
  return [shelf, lowCut];
}
