import { Random } from '../signal/random.ts';
import type { DitherSource } from '../wave/samples.ts';

/**
 * Dither with a triangular distribution, 2 steps wide (-1 to 1, mean exactly 0), white, independent from sample to sample
 * and so from channel to channel: it makes the error of rounding independent of the sound in mean and power, at a total
 * of a quarter of a squared step. Source: Lipshitz, Wannamaker & Vanderkooy 1992, J. Audio Eng. Soc. 40(5).
 * The same seed gives the same bytes. Meant for 16 bit; at 24 bit the rounding is below any converter's own noise.
 */
export class TriangularDither implements DitherSource {
  readonly #random: Random;

  constructor(seed: number) {
    this.#random = new Random(seed);
  }

  /** In steps of the target format. */
  next(): number {
    // Both halves of one draw: two uniform numbers of 16 bits are fine enough, and half as dear.
    const bits = this.#random.uint32();
    return ((bits & 0xffff) + (bits >>> 16) - 65535) / 65536;
  }
}
