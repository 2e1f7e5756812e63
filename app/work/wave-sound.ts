import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import type { Sound } from '../../core/signal/sound.ts';
import { byteSourceOf } from '../../core/wave/byte-source.ts';
import { BYTES_PER_SAMPLE } from '../../core/wave/format.ts';
import { MonoDecoder } from '../../core/wave/mono-decoder.ts';
import { parseWaveHeader } from '../../core/wave/parse-header.ts';

/** Bytes of a WAVE file's beginning that are looked through for its header. */
const HEADER_BYTES = 1 << 20;
/** Frames read at a time. */
const PIECE_FRAMES = 16384;

/** A mono WAVE file of any format, read in place: a clip that is one already needs no copy in the cache. */
export class WaveSound implements Sound {
  readonly rateHz: number;
  readonly lengthFrames: number;
  readonly #descriptor: number;
  readonly #decoder: MonoDecoder;
  readonly #sampleBytes: number;
  readonly #startBytes: number;

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
      this.#sampleBytes = BYTES_PER_SAMPLE[header.format];
      this.#decoder = new MonoDecoder(header.format, PIECE_FRAMES);
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
    target.fill(0, 0, lead);
    let at = from;
    while (at < to) {
      const frames = this.#readPiece(at, Math.min(PIECE_FRAMES, to - at));
      if (frames === 0) break;
      target.set(this.#decoder.decode(frames), lead + at - from);
      at += frames;
    }
    target.fill(0, lead + at - from);
  }

  /** Fills the decoder's bytes; gives the frames that were there. */
  #readPiece(fromFrame: number, frames: number): number {
    const wanted = frames * this.#sampleBytes;
    const start = this.#startBytes + fromFrame * this.#sampleBytes;
    let done = 0;
    while (done < wanted) {
      const got = readSync(this.#descriptor, this.#decoder.bytes, done, wanted - done, start + done);
      if (got === 0) break;
      done += got;
    }
    return Math.floor(done / this.#sampleBytes);
  }

  close(): void {
    closeSync(this.#descriptor);
  }
}
