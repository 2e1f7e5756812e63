import { powerToLufs } from '../../core/loudness/gate.ts';
import { KWeightedEnergy } from '../../core/loudness/k-weighting.ts';
import { SlidingPower } from '../../core/loudness/sliding-power.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';

/**
 * Momentary (400 ms) and short-term (3 s) loudness of a stereo stream that never ends, after ITU-R BS.1770-5 and EBU Tech
 * 3341, read at the last whole 10 ms. Unlike a LoudnessMeter it keeps no history, so its memory is constant.
 */
export class LevelWatch {
  readonly #left = new KWeightedEnergy(SESSION_RATE_HZ);
  readonly #right = new KWeightedEnergy(SESSION_RATE_HZ);
  readonly #power = new SlidingPower(SESSION_RATE_HZ);
  #frames = 0;

  /** LUFS; -Infinity for silence. */
  get momentaryLufs(): number {
    return powerToLufs(this.#power.momentary);
  }

  /** LUFS; -Infinity for silence. */
  get shortTermLufs(): number {
    return powerToLufs(this.#power.shortTerm);
  }

  add(left: Float32Array, right: Float32Array): void {
    let from = 0;
    while (from < left.length) {
      const edge = this.#power.nextEdgeFrame;
      const to = Math.min(left.length, from + edge - this.#frames);
      this.#left.add(left, from, to);
      this.#right.add(right, from, to);
      this.#frames += to - from;
      from = to;
      if (this.#frames === edge) this.#endStep(this.#left.takeEnergy() + this.#right.takeEnergy());
    }
  }

  #endStep(energy: number): void {
    if (Number.isFinite(energy)) {
      this.#power.push(energy);
    } else {
      // A number that is not finite would stay in the filters for good.
      this.#left.reset();
      this.#right.reset();
      this.#power.push(0);
    }
  }

  reset(): void {
    this.#left.reset();
    this.#right.reset();
    this.#power.reset();
    this.#frames = 0;
  }
}
