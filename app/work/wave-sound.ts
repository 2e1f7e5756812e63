import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import type { Sound } from '../../core/signal/sound.ts';
import { byteSourceOf } from '../../core/wave/byte-source.ts';
import { BYTES_PER_SAMPLE, type SampleFormat } from '../../core/wave/format.ts';
import { parseWaveHeader } from '../../core/wave/parse-header.ts';
import { decodeInto } from '../../core/wave/samples.ts';

/** Bytes of a WAVE file's beginning that are looked through for its header. */
const HEADER_BYTES = 1 << 20;

/** A mono WAVE file of any format, read in place: a clip that is one already needs no copy in the cache. */
export class WaveSound implements Sound {
  readonly rateHz: number;
  readonly lengthFrames: number;
  readonly #descriptor: number;
  readonly #format: SampleFormat;
  readonly #startBytes: number;
  #bytes = new Uint8Array(0);

  /** Throws PartsongError as parseWaveHeader does, RangeError when it has more than one channel. */
  constructor(path: string) {
    this.#descriptor = openSync(path, 'r');
    try {
      const { size } = fstatSync(this.#descriptor);
      const head = new Uint8Array(Math.min(size, HEADER_BYTES));
      const got = readSync(this.#descriptor, head, 0, head.length, 0);
      const header = parseWaveHeader(byteSourceOf(head.subarray(0, got), size), path);
      if (header.channels !== 1) throw new RangeError(`${path} has ${header.channels} channels; allowed 1`);
      this.rateHz = header.rateHz;
      this.lengthFrames = header.lengthFrames;
      this.#format = header.format;
      this.#startBytes = header.dataOffsetBytes;
    } catch (error) {
      closeSync(this.#descriptor);
      throw error;
    }
  }

  read(fromFrame: number, target: Float32Array): void {
    const from = Math.max(0, Math.min(this.lengthFrames, fromFrame));
    const to = Math.max(from, Math.min(this.lengthFrames, fromFrame + target.length));
    const lead = Math.min(target.length, Math.max(0, from - fromFrame));
    const sampleBytes = BYTES_PER_SAMPLE[this.#format];
    const wanted = (to - from) * sampleBytes;
    if (this.#bytes.length < wanted) this.#bytes = new Uint8Array(wanted);
    let done = 0;
    while (done < wanted) {
      const at = this.#startBytes + from * sampleBytes + done;
      const got = readSync(this.#descriptor, this.#bytes, done, wanted - done, at);
      if (got === 0) break;
      done += got;
    }
    const frames = Math.floor(done / sampleBytes);
    target.fill(0, 0, lead);
    decodeInto(this.#bytes, this.#format, [target.subarray(lead, lead + frames)]);
    target.fill(0, lead + frames);
  }

  close(): void {
    closeSync(this.#descriptor);
  }
}
