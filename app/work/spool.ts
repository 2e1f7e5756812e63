import { closeSync, openSync, readSync, renameSync, rmSync, truncateSync } from 'node:fs';
import { type Block, blockLength } from '../../core/signal/block.ts';
import { writeAll } from './sound-file.ts';

const BYTES_PER_SAMPLE = 4;
/** What is copied at once, bytes. */
const PIECE_BYTES = 1 << 18;

/**
 * Decoded sound in a file, float32 little endian, channels interleaved. As long as it is what the decoder itself laid down (`scratch`) nothing is
 * written; from the first block on that is not, all goes into a file of its own.
 */
export class Spool {
  readonly #scratch: string;
  readonly #own: string;
  #descriptor: number | undefined;
  #hasOwn = false;
  #bytes = new Float32Array(0);
  #frames = 0;
  #channels = 1;

  /** scratch: the decoder's file. own: the name of the other, where one is needed. Whoever makes a Spool removes both in the end. */
  constructor(scratch: string, own: string) {
    this.#scratch = scratch;
    this.#own = own;
  }

  /** Bytes so far. */
  get sizeBytes(): number {
    return this.#frames * this.#channels * BYTES_PER_SAMPLE;
  }

  /** Where the sound lies; what lies behind its `sizeBytes` is not of it. */
  get path(): string {
    return this.#hasOwn ? this.#own : this.#scratch;
  }

  /** isThere: this block, and all before, lie in the scratch file. */
  add(block: Block, isThere: boolean): void {
    this.#channels = block.length;
    if (!isThere && !this.#hasOwn) this.#leave();
    if (this.#descriptor !== undefined) writeAll(this.#descriptor, this.#interleaved(block));
    this.#frames += blockLength(block);
  }

  /** Begins a file of its own with what was given so far. */
  #leave(): void {
    this.#descriptor = openSync(this.#own, 'w');
    this.#hasOwn = true;
    const until = this.sizeBytes;
    if (until === 0) return;
    const from = openSync(this.#scratch, 'r');
    try {
      const piece = new Uint8Array(Math.min(PIECE_BYTES, until));
      for (let at = 0; at < until; ) {
        const got = readSync(from, piece, 0, Math.min(piece.length, until - at), at);
        if (got === 0) throw new RangeError(`${this.#scratch} ends at ${at} bytes; ${until} were told`);
        writeAll(this.#descriptor, piece.subarray(0, got));
        at += got;
      }
    } finally {
      closeSync(from);
    }
  }

  #interleaved(block: Block): Uint8Array {
    const channels = block.length;
    if (channels === 1) return new Uint8Array(block[0]!.buffer, block[0]!.byteOffset, block[0]!.byteLength);
    const count = blockLength(block) * channels;
    if (this.#bytes.length < count) this.#bytes = new Float32Array(count);
    for (let channel = 0; channel < channels; channel++) {
      const samples = block[channel]!;
      for (let n = 0, at = channel; n < samples.length; n++, at += channels) this.#bytes[at] = samples[n]!;
    }
    return new Uint8Array(this.#bytes.buffer, 0, count * BYTES_PER_SAMPLE);
  }

  /** Nothing more is given. */
  close(): void {
    if (this.#descriptor !== undefined) closeSync(this.#descriptor);
    this.#descriptor = undefined;
  }

  /** Gives the sound its name. */
  keepAs(path: string): void {
    if (!this.#hasOwn) truncateSync(this.#scratch, this.sizeBytes);
    renameSync(this.path, path);
  }

  remove(): void {
    this.close();
    for (const path of [this.#scratch, this.#own]) rmSync(path, { force: true });
  }
}
