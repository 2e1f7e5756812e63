import type { Block } from './block.ts';

/**
 * A block that is used again and again: it grows to the longest length asked for, and hands out views of the wanted
 * length. Allocates nothing while the lengths asked for stay the same.
 */
export class BlockBuffer {
  readonly #channels: number;
  #whole: Float32Array[];
  #view: Float32Array[];

  constructor(channels: number, lengthFrames = 0) {
    this.#channels = channels;
    this.#whole = Array.from({ length: channels }, () => new Float32Array(lengthFrames));
    this.#view = this.#whole;
  }

  /** `lengthFrames` frames; what is in them is left from earlier use. */
  take(lengthFrames: number): Block {
    if (lengthFrames > (this.#whole[0]?.length ?? 0)) {
      this.#whole = Array.from({ length: this.#channels }, () => new Float32Array(lengthFrames));
      this.#view = this.#whole;
    } else if (lengthFrames !== this.#view[0]?.length) {
      this.#view = this.#whole.map((samples) => samples.subarray(0, lengthFrames));
    }
    return this.#view;
  }
}
