import { describe, expect, it } from 'vitest';
import { Random } from '../../../core/signal/random.ts';
import { BYTES_PER_SAMPLE, type SampleFormat } from '../../../core/wave/format.ts';
import { MonoDecoder } from '../../../core/wave/mono-decoder.ts';
import { decodeSamples } from '../../../core/wave/samples.ts';

const SEED = 71;
const FORMATS: readonly SampleFormat[] = ['u8', 'pcm16', 'pcm24', 'pcm32', 'float32', 'float64'];

/** Bytes of `frames` samples, with the ends of the range among them. */
function bytesOf(format: SampleFormat, frames: number): Uint8Array {
  const random = new Random(SEED);
  if (format === 'float32')
    return new Uint8Array(Float32Array.from({ length: frames }, () => random.gaussian()).buffer);
  if (format === 'float64')
    return new Uint8Array(Float64Array.from({ length: frames }, () => random.gaussian()).buffer);
  const bytes = Uint8Array.from({ length: frames * BYTES_PER_SAMPLE[format] }, () => random.uint32() & 255);
  bytes.fill(255, 0, 8).fill(0, 8, 12).fill(127, 12, 13);
  return bytes;
}

describe('MonoDecoder', () => {
  for (const format of FORMATS) {
    for (const engine of ['kernel', 'plain'] as const) {
      it(`gives every ${format} sample exactly as decodeSamples does, piece by piece (${engine})`, () => {
        const frames = 1003;
        const bytes = bytesOf(format, frames);
        const [wanted] = decodeSamples(bytes, format, 1);
        const decoder = new MonoDecoder(format, 250, engine);
        const got = new Float32Array(frames);
        const width = BYTES_PER_SAMPLE[format];
        for (let from = 0; from < frames; from += 250) {
          const count = Math.min(250, frames - from);
          decoder.bytes.set(bytes.subarray(from * width, (from + count) * width));
          got.set(decoder.decode(count), from);
        }
        expect(got, `seed ${SEED}`).toEqual(wanted);
      });
    }
  }
});
