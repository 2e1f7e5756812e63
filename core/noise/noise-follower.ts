import { CHUNK_FRAMES, type FramePlan } from './frame-plan.ts';
import { type NoiseProfile, noisePowerAt } from './profile.ts';
import type { CleanSettings } from './settings.ts';

/** Smallest noise power assumed in a bin, relative to full scale squared: keeps ratios finite. */
const LEAST_POWER = 1e-15;

/** Gives the noise power per bin for each chunk of the take, from its start to its end. */
export class NoiseFollower {
  readonly #plan: FramePlan;
  readonly #profile: NoiseProfile;
  readonly #margins: Float64Array;
  readonly #inverse: Float64Array;
  readonly #least: number;
  readonly #startFrame: number;
  #chunk = 0;

  /** startFrame: frame of the take that the first chunk's first sample is. */
  constructor(plan: FramePlan, profile: NoiseProfile, settings: CleanSettings, startFrame: number) {
    this.#startFrame = startFrame;
    this.#plan = plan;
    this.#profile = profile;
    this.#inverse = new Float64Array(plan.bins);
    this.#margins = new Float64Array(plan.bins).fill(10 ** (settings.marginDb / 10));
    this.#least = LEAST_POWER * plan.size;
    const more = 10 ** (settings.lineMarginDb / 10);
    for (const line of profile.lines) {
      const middle = Math.round((line.hz * plan.size) / plan.rateHz);
      for (let k = Math.max(0, middle - 2); k <= Math.min(plan.bins - 1, middle + 2); k++) {
        this.#margins[k] = 10 ** (settings.marginDb / 10) * more;
      }
    }
  }

  reset(): void {
    this.#chunk = 0;
  }

  /** 1 / noise power per bin for the next chunk. */
  next(): Float64Array {
    const { hop, size } = this.#plan;
    // Middle of the chunk's frames, which begin size - hop before the first sample.
    const middle = (this.#chunk + 0.5) * CHUNK_FRAMES * hop - size / 2 + this.#startFrame;
    this.#chunk++;
    const inverse = this.#inverse;
    noisePowerAt(this.#profile, middle, inverse);
    for (let k = 0; k < inverse.length; k++) inverse[k] = 1 / (inverse[k]! * this.#margins[k]! + this.#least);
    return inverse;
  }
}
