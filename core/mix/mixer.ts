import { type Block, blockLength } from '../signal/block.ts';
import { BlockBuffer } from '../signal/block-buffer.ts';
import { Strip, type StripSettings } from './strip.ts';

/**
 * The sum of all voices, each through its strip. No latency; the sound does not depend on how it was cut. The same code
 * makes the preview and the render. Allocates nothing while running when the block length stays the same.
 */
export class MixBus {
  readonly strips: readonly Strip[];
  readonly #output = new BlockBuffer(2);
  readonly #alone: boolean[];

  constructor(voices: readonly StripSettings[], rateHz: number) {
    this.strips = voices.map((settings) => new Strip(settings, rateHz));
    this.#alone = voices.map(() => false);
  }

  /**
   * voices: a mono block a strip, in the order of the strips, all of one length. Gives the stereo sum, valid until the
   * next call.
   */
  process(voices: readonly Block[]): Block {
    if (voices.length !== this.strips.length) {
      throw new RangeError(`voices are ${voices.length}; this bus has ${this.strips.length} strips`);
    }
    const length = voices.length === 0 ? 0 : blockLength(voices[0]!);
    const output = this.#output.take(length);
    const left = output[0]!;
    const right = output[1]!;
    left.fill(0);
    right.fill(0);
    for (let index = 0; index < voices.length; index++) {
      const samples = voices[index]![0]!;
      if (samples.length !== length) {
        throw new RangeError(`voice ${index} has ${samples.length} frames; the first has ${length}`);
      }
      this.strips[index]!.addTo(samples, left, right);
    }
    return output;
  }

  /** Lets a voice be heard alone, or with the others that are marked so; with none marked all are heard. */
  setAlone(index: number, alone: boolean): void {
    if (this.#alone[index] === undefined) {
      throw new RangeError(`index is ${index}; allowed 0 to ${this.strips.length - 1}`);
    }
    this.#alone[index] = alone;
    const any = this.#alone.includes(true);
    for (const [at, strip] of this.strips.entries()) strip.setHeard(!any || this.#alone[at]!);
  }

  reset(): void {
    this.#alone.fill(false);
    for (const strip of this.strips) strip.reset();
  }
}
