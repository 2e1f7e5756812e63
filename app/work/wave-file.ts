import { closeSync, openSync, writeSync } from 'node:fs';
import type { Block } from '../../core/signal/block.ts';
import { blockLength } from '../../core/signal/block.ts';
import type { BextLoudness } from '../../core/wave/format.ts';
import { makeWaveHeader, type WavePlan, wavePaddingBytes } from '../../core/wave/make-header.ts';
import { type DitherSource, SampleEncoder } from '../../core/wave/samples.ts';
import { writeAll } from './sound-file.ts';

/** Writes a WAVE file block by block; its header is set right at the end, RF64 when it passed 4 GiB. */
export class WaveFileWriter {
  readonly #descriptor: number;
  readonly #plan: Omit<WavePlan, 'lengthFrames'>;
  readonly #encoder: SampleEncoder;
  lengthFrames = 0;

  constructor(path: string, plan: Omit<WavePlan, 'lengthFrames'>, dither?: DitherSource) {
    this.#plan = plan;
    this.#encoder = new SampleEncoder(plan.format, dither);
    this.#descriptor = openSync(path, 'w');
    writeAll(this.#descriptor, makeWaveHeader({ ...plan, lengthFrames: undefined }));
  }

  /** Samples that passed full scale and were clamped (integer formats). */
  get clampedSamples(): number {
    return this.#encoder.clampedSamples;
  }

  write(block: Block): void {
    this.lengthFrames += blockLength(block);
    writeAll(this.#descriptor, this.#encoder.encode(block));
  }

  /** Sets the header right and closes the file. loudness: what was measured while it was written, for a file with bext. */
  finish(loudness?: BextLoudness): void {
    try {
      const { bext } = this.#plan;
      const measured = bext === undefined || loudness === undefined ? {} : { bext: { ...bext, loudness } };
      const plan = { ...this.#plan, ...measured, lengthFrames: this.lengthFrames };
      if (wavePaddingBytes(plan) === 1) writeAll(this.#descriptor, new Uint8Array(1));
      const header = makeWaveHeader(plan);
      let done = 0;
      while (done < header.length) done += writeSync(this.#descriptor, header, done, header.length - done, done);
    } finally {
      closeSync(this.#descriptor);
    }
  }

  /** Closes the file as it is; for use when the work failed. */
  abandon(): void {
    closeSync(this.#descriptor);
  }
}
