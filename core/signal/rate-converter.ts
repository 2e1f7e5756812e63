import { type Block, blockLength, type Processor } from './block.ts';
import { BlockBuffer } from './block-buffer.ts';
import type { FrameReader, Interpolator } from './interpolator.ts';
import { makeInterpolator } from './resample.ts';

/**
 * Another sample rate, block by block; the quality is that of interpolator.ts. Unlike other Processors it gives as many
 * frames as the sound lasts at the new rate: ceil(frames in * toRateHz / fromRateHz), in step with the input.
 * latencyFrames counts input frames.
 */
export class RateConverter implements Processor {
  readonly latencyFrames: number;
  readonly #step: number;
  readonly #interpolator: Interpolator | undefined;
  readonly #histories: readonly History[];
  readonly #output: BlockBuffer;
  #received = 0;
  #given = 0;

  constructor(channels: number, fromRateHz: number, toRateHz: number) {
    this.#step = fromRateHz / toRateHz;
    this.#interpolator = fromRateHz === toRateHz ? undefined : makeInterpolator(this.#step);
    this.latencyFrames = this.#interpolator?.reachFrames ?? 0;
    this.#histories = Array.from({ length: channels }, () => new History());
    this.#output = new BlockBuffer(channels);
  }

  process(input: Block): Block {
    if (this.#interpolator === undefined) return input;
    const drop = Math.floor(this.#given * this.#step) - this.latencyFrames;
    for (let channel = 0; channel < this.#histories.length; channel++) {
      this.#histories[channel]!.append(input[channel]!, drop);
    }
    this.#received += blockLength(input);
    return this.#give(Math.ceil((this.#received - this.latencyFrames) / this.#step));
  }

  flush(): Block {
    return this.#give(Math.ceil(this.#received / this.#step));
  }

  reset(): void {
    this.#received = 0;
    this.#given = 0;
    for (const history of this.#histories) history.reset();
  }

  #give(untilFrame: number): Block {
    const output = this.#output.take(Math.max(0, untilFrame - this.#given));
    const count = blockLength(output);
    if (count > 0 && this.#interpolator !== undefined) {
      for (let channel = 0; channel < output.length; channel++) {
        this.#interpolator.run(this.#histories[channel]!, 0, this.#given, output[channel]!, 0, count);
      }
      this.#given += count;
    }
    return output;
  }
}

/** The last frames of one channel, readable by their place in the whole; what is outside reads as 0. */
class History implements FrameReader {
  #samples = new Float32Array(0);
  #from = 0;
  #length = 0;

  append(samples: Float32Array, dropBefore: number): void {
    const drop = Math.min(this.#length, Math.max(0, dropBefore - this.#from));
    const kept = this.#length - drop;
    if (kept + samples.length > this.#samples.length) {
      const larger = new Float32Array(2 * (kept + samples.length));
      larger.set(this.#samples.subarray(drop, this.#length));
      this.#samples = larger;
    } else this.#samples.copyWithin(0, drop, this.#length);
    this.#samples.set(samples, kept);
    this.#from += drop;
    this.#length = kept + samples.length;
  }

  read(fromFrame: number, target: Float32Array): void {
    target.fill(0);
    const from = Math.max(fromFrame, this.#from);
    const to = Math.min(fromFrame + target.length, this.#from + this.#length);
    if (to > from) target.set(this.#samples.subarray(from - this.#from, to - this.#from), from - fromFrame);
  }

  reset(): void {
    this.#from = 0;
    this.#length = 0;
  }
}
