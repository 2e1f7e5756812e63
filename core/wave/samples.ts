import type { Block } from '../signal/block.ts';
import { blockLength } from '../signal/block.ts';
import { assertNever } from '../signal/fault.ts';
import { BYTES_PER_SAMPLE, type SampleFormat, type WrittenFormat } from './format.ts';

/** Gives one dither value a call, in steps of the target format. Called in the order in which samples lie in the file. */
export interface DitherSource {
  next(): number;
}

const SCALE_16 = 32768;
const SCALE_24 = 8388608;
/** Powers of two: multiplying by them is exact, and faster than dividing. */
const STEP_16 = 1 / SCALE_16;
const STEP_32 = 1 / 2147483648;

/**
 * Turns planar blocks into the bytes of a WAVE file: interleaved, little endian; full scale 1 becomes 2^(bits-1), rounded
 * to the nearest step; what passes the range is clamped and counted. The bytes do not depend on how the sound was cut.
 * Memory: one block's bytes, which are reused; the returned array is only valid until the next call.
 */
export class SampleEncoder {
  /** Samples that passed the range of the format and were clamped, since the start. Always 0 for float. */
  clampedSamples = 0;
  readonly #format: WrittenFormat;
  readonly #dither: DitherSource | undefined;
  #buffer = new ArrayBuffer(0);

  /** dither: for integer formats; without one the rounding is plain. */
  constructor(format: WrittenFormat, dither?: DitherSource) {
    this.#format = format;
    this.#dither = dither;
  }

  encode(block: Block): Uint8Array {
    const total = blockLength(block) * block.length;
    const bytes = total * BYTES_PER_SAMPLE[this.#format];
    // A multiple of 8, so that typed views of any width fit.
    if (this.#buffer.byteLength < bytes) this.#buffer = new ArrayBuffer(Math.ceil(bytes / 8) * 8);
    switch (this.#format) {
      case 'pcm16':
        if (this.#dither === undefined) this.#encode16(block);
        else this.#encode16Dithered(block, this.#dither);
        break;
      case 'pcm24':
        this.#encode24(block);
        break;
      case 'float32':
        encodeFloat(block, new Float32Array(this.#buffer));
        break;
      default:
        assertNever(this.#format);
    }
    return new Uint8Array(this.#buffer, 0, bytes);
  }

  #encode16(block: Block): void {
    const out = new Int16Array(this.#buffer);
    const channels = block.length;
    let clamped = 0;
    for (let channel = 0; channel < channels; channel++) {
      const samples = block[channel]!;
      for (let n = 0, at = channel; n < samples.length; n++, at += channels) {
        let value = Math.floor(samples[n]! * SCALE_16 + 0.5);
        if (value > 32767) {
          value = 32767;
          clamped++;
        } else if (value < -32768) {
          value = -32768;
          clamped++;
        }
        out[at] = value;
      }
    }
    this.clampedSamples += clamped;
  }

  #encode16Dithered(block: Block, dither: DitherSource): void {
    const out = new Int16Array(this.#buffer);
    const channels = block.length;
    const frames = blockLength(block);
    let clamped = 0;
    for (let n = 0, at = 0; n < frames; n++) {
      for (let channel = 0; channel < channels; channel++, at++) {
        let value = Math.floor(block[channel]![n]! * SCALE_16 + dither.next() + 0.5);
        if (value > 32767) {
          value = 32767;
          clamped++;
        } else if (value < -32768) {
          value = -32768;
          clamped++;
        }
        out[at] = value;
      }
    }
    this.clampedSamples += clamped;
  }

  #encode24(block: Block): void {
    const out = new Uint8Array(this.#buffer);
    const dither = this.#dither;
    const channels = block.length;
    const frames = blockLength(block);
    let clamped = 0;
    for (let n = 0, at = 0; n < frames; n++) {
      for (let channel = 0; channel < channels; channel++, at += 3) {
        let exact = block[channel]![n]! * SCALE_24 + 0.5;
        if (dither !== undefined) exact += dither.next();
        let value = Math.floor(exact);
        if (value > 8388607) {
          value = 8388607;
          clamped++;
        } else if (value < -8388608) {
          value = -8388608;
          clamped++;
        }
        out[at] = value;
        out[at + 1] = value >> 8;
        out[at + 2] = value >> 16;
      }
    }
    this.clampedSamples += clamped;
  }
}

function encodeFloat(block: Block, out: Float32Array): void {
  const channels = block.length;
  if (channels === 1) {
    out.set(block[0]!);
    return;
  }
  for (let channel = 0; channel < channels; channel++) {
    const samples = block[channel]!;
    for (let n = 0, at = channel; n < samples.length; n++, at += channels) out[at] = samples[n]!;
  }
}

/** One block's bytes; see SampleEncoder, which spares the memory when many blocks follow. */
export function encodeSamples(block: Block, format: WrittenFormat, dither?: DitherSource): Uint8Array {
  return new SampleEncoder(format, dither).encode(block);
}

/**
 * Planar samples from the bytes of a WAVE file, full scale 1 (integer formats are divided by 2^(bits-1)). Bytes after the
 * last whole frame are left out. Takes new memory for its result.
 */
export function decodeSamples(bytes: Uint8Array, format: SampleFormat, channels: number): Block {
  const frames = Math.floor(bytes.length / (BYTES_PER_SAMPLE[format] * channels));
  const block: Float32Array[] = [];
  for (let channel = 0; channel < channels; channel++) block.push(new Float32Array(frames));
  decodeInto(bytes, format, block);
  return block;
}

/** As decodeSamples, into arrays of the caller, which say how many frames and channels are taken from the bytes. */
export function decodeInto(bytes: Uint8Array, format: SampleFormat, block: readonly Float32Array[]): void {
  const channels = block.length;
  const frames = block[0]?.length ?? 0;
  if (format === 'pcm24') decode24(bytes, block);
  else if (format === 'u8') decode8(bytes, block);
  else {
    const used = frames * channels * BYTES_PER_SAMPLE[format];
    // Typed views need their own alignment, which a part of a file does not promise (and a Buffer's slice does not copy).
    const aligned = bytes.byteOffset % 8 === 0 ? bytes : new Uint8Array(bytes.subarray(0, used));
    const count = frames * channels;
    if (format === 'pcm16') decode16(new Int16Array(aligned.buffer, aligned.byteOffset, count), block);
    else if (format === 'pcm32') decode32(new Int32Array(aligned.buffer, aligned.byteOffset, count), block);
    else if (format === 'float32') decodeFloat(new Float32Array(aligned.buffer, aligned.byteOffset, count), block);
    else decodeDouble(new Float64Array(aligned.buffer, aligned.byteOffset, count), block);
  }
}

// One loop a format: a loop that saw several array types would run several times slower.

function decode8(bytes: Uint8Array, block: readonly Float32Array[]): void {
  for (let channel = 0; channel < block.length; channel++) {
    const out = block[channel]!;
    for (let n = 0, at = channel; n < out.length; n++, at += block.length) out[n] = (bytes[at]! - 128) / 128;
  }
}

function decode16(samples: Int16Array, block: readonly Float32Array[]): void {
  if (block.length === 1) {
    decode16Alone(samples, block[0]!);
    return;
  }
  for (let channel = 0; channel < block.length; channel++) {
    const out = block[channel]!;
    for (let n = 0, at = channel; n < out.length; n++, at += block.length) out[n] = samples[at]! * STEP_16;
  }
}

/** One channel needs no steps of a variable width: four times as fast. */
function decode16Alone(samples: Int16Array, out: Float32Array): void {
  const frames = Math.min(samples.length, out.length);
  for (let n = 0; n < frames; n++) out[n] = samples[n]! * STEP_16;
}

function decode24(bytes: Uint8Array, block: readonly Float32Array[]): void {
  const frameBytes = 3 * block.length;
  for (let channel = 0; channel < block.length; channel++) {
    const out = block[channel]!;
    for (let n = 0, at = 3 * channel; n < out.length; n++, at += frameBytes) {
      out[n] = ((bytes[at]! << 8) | (bytes[at + 1]! << 16) | (bytes[at + 2]! << 24)) * STEP_32;
    }
  }
}

function decode32(samples: Int32Array, block: readonly Float32Array[]): void {
  for (let channel = 0; channel < block.length; channel++) {
    const out = block[channel]!;
    for (let n = 0, at = channel; n < out.length; n++, at += block.length) out[n] = samples[at]! * STEP_32;
  }
}

function decodeFloat(samples: Float32Array, block: readonly Float32Array[]): void {
  if (block.length === 1) {
    block[0]!.set(samples);
    return;
  }
  for (let channel = 0; channel < block.length; channel++) {
    const out = block[channel]!;
    for (let n = 0, at = channel; n < out.length; n++, at += block.length) out[n] = samples[at]!;
  }
}

function decodeDouble(samples: Float64Array, block: readonly Float32Array[]): void {
  for (let channel = 0; channel < block.length; channel++) {
    const out = block[channel]!;
    for (let n = 0, at = channel; n < out.length; n++, at += block.length) out[n] = samples[at]!;
  }
}
