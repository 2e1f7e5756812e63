import { CHUNK_FRAMES, type FramePlan } from './frame-plan.ts';
import { type NoiseProfile, noisePowerAt } from './profile.ts';
import type { CleanSettings } from './settings.ts';

/** Smallest noise power assumed in a bin, relative to full scale squared: keeps ratios finite. */
const LEAST_POWER = 1e-15;

/**
 * Gives the noise power per bin for each chunk of the take, from its start to its end: between two silences it changes
 * evenly in dB, so from chunk to chunk each bin is multiplied by one factor.
 */
export class NoiseFollower {
  readonly #plan: FramePlan;
  readonly #profile: NoiseProfile;
  readonly #margins: Float64Array;
  readonly #inverse: Float64Array;
  readonly #factors: Float64Array;
  readonly #least: number;
  #startFrame: number;
  readonly #follow: boolean;
  #chunk = 0;
  /** Silences that lie before the current chunk; -1 before the first chunk. */
  #passed = -1;

  /** startFrame: frame of the take that the first chunk's first sample is. */
  constructor(plan: FramePlan, profile: NoiseProfile, settings: CleanSettings, startFrame: number) {
    this.#plan = plan;
    this.#profile = profile;
    this.#startFrame = startFrame;
    this.#follow = settings.follow;
    this.#inverse = new Float64Array(plan.bins);
    this.#factors = new Float64Array(plan.bins).fill(1);
    this.#margins = new Float64Array(plan.bins).fill(10 ** (settings.marginDb / 10));
    this.#least = LEAST_POWER * plan.size;
    const more = 10 ** ((settings.marginDb + settings.lineMarginDb) / 10);
    for (const line of profile.lines) {
      const middle = Math.round((line.hz * plan.size) / plan.rateHz);
      this.#margins.fill(more, Math.max(0, middle - 2), Math.min(plan.bins, middle + 3));
    }
  }

  /** startFrame: as for the constructor. */
  reset(startFrame: number): void {
    this.#startFrame = startFrame;
    this.#chunk = 0;
    this.#passed = -1;
  }

  /** 1 / noise power per bin for the next chunk, or undefined when it has not changed. Valid until the next call. */
  next(): Float64Array | undefined {
    const { hop, size } = this.#plan;
    const states = this.#profile.states;
    const chunkFrames = CHUNK_FRAMES * hop;
    // Middle of the chunk's frames, which begin size - hop before the first sample.
    const middle = (this.#chunk + 0.5) * chunkFrames - size / 2 + this.#startFrame;
    this.#chunk++;
    if (!this.#follow && this.#passed >= 0) return undefined;
    let passed = 0;
    while (passed < states.length && states[passed]!.centreFrame < middle) passed++;
    const between = passed > 0 && passed < states.length;
    if (passed === this.#passed && !between) return undefined;
    const inverse = this.#inverse;
    if (passed === this.#passed) {
      for (let k = 0; k < inverse.length; k++) inverse[k]! *= this.#factors[k]!;
      return inverse;
    }
    this.#passed = passed;
    if (between) {
      const span = states[passed]!.centreFrame - states[passed - 1]!.centreFrame;
      this.#exactAt(middle + Math.min(span, chunkFrames), this.#factors);
      this.#exactAt(middle, inverse);
      const power = chunkFrames > span ? chunkFrames / span : 1;
      for (let k = 0; k < inverse.length; k++) this.#factors[k] = (this.#factors[k]! / inverse[k]!) ** power;
    } else this.#exactAt(this.#follow ? middle : states[0]!.centreFrame, inverse);
    return inverse;
  }

  #exactAt(takeFrame: number, target: Float64Array): void {
    noisePowerAt(this.#profile, takeFrame, target);
    for (let k = 0; k < target.length; k++) target[k] = 1 / (target[k]! * this.#margins[k]! + this.#least);
  }
}
