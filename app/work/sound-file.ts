import { closeSync, fstatSync, openSync, readSync, writeSync } from 'node:fs';
import type { Sound } from '../../core/signal/sound.ts';
import { byteSourceOf } from '../../core/wave/byte-source.ts';
import { parseWaveHeader } from '../../core/wave/parse-header.ts';

const BYTES_PER_SAMPLE = 4;
/** Frames per write: 256 KiB at a time kept the disk busy without swelling memory (64 to 256 KiB measured alike). */
const WRITE_FRAMES = 65536;

/**
 * A mono recording in the cache: float32 little endian, nothing else in the file. Reads go straight into the caller's
 * array. Not safe to share between threads; each opens its own.
 */
export class SoundFile implements Sound {
  readonly rateHz: number;
  readonly lengthFrames: number;
  readonly #descriptor: number;
  readonly #startBytes: number;

  /** startBytes: where the samples begin, for a float WAVE file that is read the same way. */
  constructor(path: string, rateHz: number, startBytes = 0) {
    this.#descriptor = openSync(path, 'r');
    this.#startBytes = startBytes;
    this.rateHz = rateHz;
    this.lengthFrames = Math.floor((fstatSync(this.#descriptor).size - startBytes) / BYTES_PER_SAMPLE);
  }

  read(fromFrame: number, target: Float32Array): void {
    const from = Math.max(0, Math.min(this.lengthFrames, fromFrame));
    const to = Math.max(from, Math.min(this.lengthFrames, fromFrame + target.length));
    const lead = Math.min(target.length, Math.max(0, from - fromFrame));
    target.fill(0, 0, lead);
    let done = 0;
    const wanted = (to - from) * BYTES_PER_SAMPLE;
    const bytes = new Uint8Array(target.buffer, target.byteOffset + lead * BYTES_PER_SAMPLE, wanted);
    while (done < wanted) {
      const got = readSync(
        this.#descriptor,
        bytes,
        done,
        wanted - done,
        this.#startBytes + from * BYTES_PER_SAMPLE + done,
      );
      if (got === 0) break;
      done += got;
    }
    target.fill(0, lead + Math.floor(done / BYTES_PER_SAMPLE));
  }

  close(): void {
    closeSync(this.#descriptor);
  }
}

/** Bytes of a WAVE file's beginning that surely hold the header of one of ours. */
const HEADER_BYTES = 4096;

/** A mono float WAVE file that Partsong wrote, read as a Sound. */
export function openFloatWave(path: string): SoundFile {
  const head = new Uint8Array(HEADER_BYTES);
  const descriptor = openSync(path, 'r');
  try {
    const got = readSync(descriptor, head, 0, HEADER_BYTES, 0);
    const header = parseWaveHeader(byteSourceOf(head.subarray(0, got), Number.MAX_SAFE_INTEGER), path);
    return new SoundFile(path, header.rateHz, header.dataOffsetBytes);
  } finally {
    closeSync(descriptor);
  }
}

/** Writes a SoundFile block by block. */
export class SoundFileWriter {
  readonly #descriptor: number;
  readonly #buffer = new Float32Array(WRITE_FRAMES);
  #filled = 0;
  lengthFrames = 0;

  constructor(path: string) {
    this.#descriptor = openSync(path, 'w');
  }

  write(samples: Float32Array): void {
    this.lengthFrames += samples.length;
    let from = 0;
    while (from < samples.length) {
      const count = Math.min(samples.length - from, WRITE_FRAMES - this.#filled);
      this.#buffer.set(samples.subarray(from, from + count), this.#filled);
      this.#filled += count;
      from += count;
      if (this.#filled === WRITE_FRAMES) this.#drain();
    }
  }

  /** Writes what is left and closes the file. */
  close(): void {
    try {
      this.#drain();
    } finally {
      closeSync(this.#descriptor);
    }
  }

  #drain(): void {
    const bytes = new Uint8Array(this.#buffer.buffer, 0, this.#filled * BYTES_PER_SAMPLE);
    writeAll(this.#descriptor, bytes);
    this.#filled = 0;
  }
}

/** Writes all bytes at the descriptor's place, however the system cuts them. */
export function writeAll(descriptor: number, bytes: Uint8Array): void {
  let done = 0;
  while (done < bytes.length) done += writeSync(descriptor, bytes, done, bytes.length - done);
}
