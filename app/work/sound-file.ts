import { closeSync, fstatSync, openSync, readSync, writeSync } from 'node:fs';
import type { Sound } from '../../core/signal/sound.ts';
import { WaveSound } from './wave-sound.ts';

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

  constructor(path: string, rateHz: number) {
    this.#descriptor = openSync(path, 'r');
    this.rateHz = rateHz;
    this.lengthFrames = Math.floor(fstatSync(this.#descriptor).size / BYTES_PER_SAMPLE);
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
      const got = readSync(this.#descriptor, bytes, done, wanted - done, from * BYTES_PER_SAMPLE + done);
      if (got === 0) break;
      done += got;
    }
    target.fill(0, lead + Math.floor(done / BYTES_PER_SAMPLE));
  }

  close(): void {
    closeSync(this.#descriptor);
  }
}

/** A Sound over a file, to be closed when it is done with. */
export interface OpenSound extends Sound {
  close(): void;
}

/** A recording of the cache (`.f32`, at the rate told), or a mono WAVE file (which tells its own). */
export function openSound(path: string, rateHz: number): OpenSound {
  return path.endsWith('.f32') ? new SoundFile(path, rateHz) : new WaveSound(path);
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
