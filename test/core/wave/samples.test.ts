import { describe, expect, it } from 'vitest';
import { Random } from '../../../core/signal/random.ts';
import { decodeSamples, encodeSamples, SampleEncoder } from '../../../core/wave/samples.ts';

function noise(seed: number, frames: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: frames }, () => random.uniform() * 1.8 - 0.9);
}

function largestError(a: Float32Array, b: Float32Array): number {
  return a.reduce((most, value, n) => Math.max(most, Math.abs(value - b[n]!)), 0);
}

describe('encodeSamples and decodeSamples', () => {
  const block = [noise(1, 501), noise(2, 501)];

  it('return stereo and mono within half a step (16, 24 bit) and exactly (float)', () => {
    for (const [format, step] of [
      ['pcm16', 2 ** -15],
      ['pcm24', 2 ** -23],
      ['float32', 0],
    ] as const) {
      for (const channels of [1, 2]) {
        const part = block.slice(0, channels);
        const back = decodeSamples(encodeSamples(part, format), format, channels);
        expect(back.length).toBe(channels);
        // A float of 24 significant bits near 1 adds 2^-25 to the half step of 24 bit.
        for (const [index, samples] of part.entries()) {
          expect(largestError(samples, back[index]!)).toBeLessThanOrEqual(step / 2 + (step > 0 ? 2 ** -25 : 0));
        }
      }
    }
  });

  it('clamp what passes the range, and count it', () => {
    const encoder = new SampleEncoder('pcm24');
    const bytes = encoder.encode([Float32Array.of(1.5, -1.5, 0, 1)]);
    expect(Array.from(bytes)).toEqual([255, 255, 127, 0, 0, 128, 0, 0, 0, 255, 255, 127]);
    expect(encoder.clampedSamples).toBe(3);
    const sixteen = new SampleEncoder('pcm16');
    expect(Array.from(sixteen.encode([Float32Array.of(-1, 2)]))).toEqual([0, 128, 255, 127]);
    expect(sixteen.clampedSamples).toBe(1);
  });

  it('read 8 bit, 32 bit and double, and bytes that lie unaligned', () => {
    expect(Array.from(decodeSamples(Uint8Array.of(128, 0, 192), 'u8', 1)[0]!)).toEqual([0, -1, 0.5]);
    const whole = new Uint8Array(Int32Array.of(1 << 30, -(2 ** 31)).buffer);
    expect(Array.from(decodeSamples(whole, 'pcm32', 1)[0]!)).toEqual([0.5, -1]);
    const doubles = new Uint8Array(Float64Array.of(0.25, -0.75).buffer);
    const shifted = new Uint8Array(doubles.length + 1);
    shifted.set(doubles, 1);
    const stereo = decodeSamples(shifted.subarray(1), 'float64', 2);
    expect([stereo[0]![0], stereo[1]![0]]).toEqual([0.25, -0.75]);
  });

  it('leave out the bytes of a cut last frame', () => {
    expect(decodeSamples(new Uint8Array(11), 'pcm16', 2)[0]!.length).toBe(2);
  });

  it('give the same bytes however the sound was cut', () => {
    for (const format of ['pcm16', 'pcm24', 'float32'] as const) {
      const whole = Array.from(encodeSamples(block, format));
      const encoder = new SampleEncoder(format);
      const cut: number[] = [];
      for (let from = 0; from < 501; from += 7) {
        cut.push(...encoder.encode(block.map((samples) => samples.subarray(from, from + 7))));
      }
      expect(cut).toEqual(whole);
    }
  });
});
