import { evenCrossfade } from './even-crossfade.ts';
import { Random } from './random.ts';
import { ExtensionScratch, extendSound, LEARNT_FRAMES } from './sound-extension.ts';

/** A gap up to this long is bridged from both sides, s; a longer one is left silent. */
export const LONGEST_BRIDGED_SEC = 0.06;
/** Into and out of a gap that is left silent, s. */
export const EDGE_FADE_SEC = 0.015;
/** Of the prediction errors that are drawn; another one for either side. */
const SEED = 0x5ea3;

/**
 * Fills what is missing of a sound from what is around it, see sound-extension.ts. Allocates only for its longest gap.
 */
export class GapBridge {
  readonly #scratch = new ExtensionScratch();
  #left = new Float32Array(0);
  #right = new Float32Array(0);
  readonly #reversed = new Float32Array(LEARNT_FRAMES);

  /** before, after: the sound on either side, LEARNT_FRAMES where there is as much. Fills `gap`. */
  bridge(before: Float32Array, after: Float32Array, gap: Float32Array): void {
    const [left, right] = this.#sides(gap.length);
    this.extend(before, left);
    this.extendBack(after, right);
    evenCrossfade(left, right, gap, 0, gap.length);
  }

  /** What comes after `before`, fading to silence over `target`. */
  fadeOut(before: Float32Array, target: Float32Array): void {
    const [left, right] = this.#sides(target.length);
    this.extend(before, left);
    right.fill(0);
    evenCrossfade(left, right, target, 0, target.length);
  }

  /** What comes before `after`, from silence on over `target`. */
  fadeIn(after: Float32Array, target: Float32Array): void {
    const [left, right] = this.#sides(target.length);
    left.fill(0);
    this.extendBack(after, right);
    evenCrossfade(left, right, target, 0, target.length);
  }

  /** Smooths a cut: `target`, which comes next, is faded in over what should have come after `before`. */
  smooth(before: Float32Array, target: Float32Array): void {
    const [left] = this.#sides(target.length);
    this.extend(before, left);
    evenCrossfade(left, target, target, 0, target.length);
  }

  /** Goes on with `before` over `target`. */
  extend(before: Float32Array, target: Float32Array): void {
    extendSound(before, target, new Random(SEED), this.#scratch);
  }

  /** Fills `target` with what leads to `after`. */
  extendBack(after: Float32Array, target: Float32Array): void {
    const near = after.length > LEARNT_FRAMES ? after.subarray(0, LEARNT_FRAMES) : after;
    const reversed = this.#reversed.subarray(0, near.length);
    reversed.set(near);
    reversed.reverse();
    extendSound(reversed, target, new Random(SEED + 1), this.#scratch);
    target.reverse();
  }

  #sides(frames: number): [Float32Array, Float32Array] {
    if (this.#left.length < frames) {
      this.#left = new Float32Array(frames);
      this.#right = new Float32Array(frames);
    }
    return [this.#left.subarray(0, frames), this.#right.subarray(0, frames)];
  }
}
