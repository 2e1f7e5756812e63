import { integratedLufs, loudnessRangeLu, PowerList, powerToLufs } from './gate.ts';
import { SlidingPower, STEPS_PER_TENTH } from './sliding-power.ts';

/** Gated and greatest loudness; see LoudnessReport. */
export interface StepReport {
  readonly integratedLufs: number;
  readonly rangeLu: number;
  readonly maxMomentaryLufs: number;
  readonly maxShortTermLufs: number;
}

/**
 * What a loudness meter makes of K-weighted energies, one each 10 ms: momentary, short-term and integrated loudness, and loudness range.
 * Source: ITU-R BS.1770-5, Annex 1; EBU Tech 3341 (2023); EBU Tech 3342 (2023). Memory: two numbers per 100 ms.
 */
export class LoudnessSteps {
  readonly #power: SlidingPower;
  /** Momentary and short-term power every 100 ms from the first on. */
  readonly #momentary = new PowerList();
  readonly #shortTerm = new PowerList();
  #maxMomentary = 0;
  #maxShortTerm = 0;

  constructor(rateHz: number) {
    this.#power = new SlidingPower(rateHz);
  }

  /** The frame at which the step that is now being filled ends. */
  get nextEdgeFrame(): number {
    return this.#power.nextEdgeFrame;
  }

  get momentaryLufs(): number {
    return powerToLufs(this.#power.momentary);
  }

  get shortTermLufs(): number {
    return powerToLufs(this.#power.shortTerm);
  }

  get integratedLufs(): number {
    // The first whole 400 ms are entry 3.
    return integratedLufs(this.#momentary.view(3));
  }

  /** Takes the energy of the next step: the sum of its squared K-weighted samples, channels weighed. A RangeError where it is not finite. */
  push(energy: number): void {
    const power = this.#power;
    if (!Number.isFinite(energy)) {
      const frame = power.nextEdgeFrame;
      throw new RangeError(`the 10 ms before frame ${frame} hold a number that is not finite; allowed finite only`);
    }
    power.push(energy);
    const momentary = power.momentary;
    const shortTerm = power.shortTerm;
    if (momentary > this.#maxMomentary) this.#maxMomentary = momentary;
    if (shortTerm > this.#maxShortTerm) this.#maxShortTerm = shortTerm;
    if (power.steps % STEPS_PER_TENTH === 0) {
      this.#momentary.push(momentary);
      this.#shortTerm.push(shortTerm);
    }
  }

  report(): StepReport {
    return {
      integratedLufs: this.integratedLufs,
      // The first whole 3 s are entry 29.
      rangeLu: loudnessRangeLu(this.#shortTerm.view(29)),
      maxMomentaryLufs: powerToLufs(this.#maxMomentary),
      maxShortTermLufs: powerToLufs(this.#maxShortTerm),
    };
  }

  /** LUFS at (k + 1) / 10 s: of the 400 ms before. */
  momentaryCurve(): number[] {
    return Array.from(this.#momentary.view(), powerToLufs);
  }

  /** LUFS at (k + 1) / 10 s: of the 3 s before. */
  shortTermCurve(): number[] {
    return Array.from(this.#shortTerm.view(), powerToLufs);
  }

  reset(): void {
    this.#power.reset();
    this.#momentary.clear();
    this.#shortTerm.clear();
    this.#maxMomentary = 0;
    this.#maxShortTerm = 0;
  }
}
