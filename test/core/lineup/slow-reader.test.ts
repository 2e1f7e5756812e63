import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { RATE_HZ, SlowReader } from '../../../core/lineup/slow-reader.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';

const SEED = 41;

function noise(lengthFrames: number): Float32Array {
  const random = new Random(SEED);
  return Float32Array.from({ length: lengthFrames }, () => 0.2 * random.gaussian());
}

describe('reading a sound slowly', () => {
  it.each([8000, 16000, 44100, 48000, 96000])(
    `reads a sound of %i Hz in the kernel to the last bit as in plain TypeScript (seed ${SEED})`,
    (rateHz) => {
      const kernel = bleedKernel();
      if (kernel === null) throw new Error('no SIMD in WebAssembly');
      const sound = soundOf(noise(2 * rateHz), rateHz);
      const [one, two] = [new SlowReader(sound, 4096, kernel), new SlowReader(sound, 4096, null)];
      const [fast, plain] = [new Float64Array(4096), new Float64Array(4096)];
      // Before the beginning, inside, past the end; whole, faster, slower; lengths that four and two do not divide.
      for (const [fromSec, speed, count] of [
        [-0.1, 1, 4096],
        [0.31234567, 1.00032, 4095],
        [0.9, 0.99968, 3329],
        [1.7, 1, 4093],
        [1.99999, 1, 1],
      ] as const) {
        fast.fill(7);
        one.read(fromSec, speed, count, fast);
        two.read(fromSec, speed, count, plain);
        expect(fast).toEqual(plain);
        expect(fast.subarray(count).every((sample) => sample === 0)).toBe(true);
      }
      // Two readers may be read in turn.
      const other = new SlowReader(soundOf(noise(24000), 24000), 4096, kernel);
      other.read(0.1, 1, 100, fast);
      one.read(0.2, 1, 100, fast);
      two.read(0.2, 1, 100, plain);
      expect(fast.subarray(0, 100)).toEqual(plain.subarray(0, 100));
    },
  );

  it('keeps a tone of 1 kHz within 0.3 dB, in its place within 5 us, and keeps out one of 12 kHz by 40 dB', () => {
    const rateHz = 48000;
    const tone = (hz: number): Float32Array =>
      Float32Array.from({ length: rateHz }, (_, n) => Math.sin((2 * Math.PI * hz * n) / rateHz));
    const read = (hz: number): Float64Array => {
      const target = new Float64Array(4096);
      new SlowReader(soundOf(tone(hz), rateHz), 4096).read(0.1, 1, 4000, target);
      return target.subarray(0, 4000);
    };
    const low = read(1000);
    let [re, im] = [0, 0];
    low.forEach((sample, n) => {
      const angle = 2 * Math.PI * 1000 * (0.1 + n / RATE_HZ);
      re += (sample * Math.sin(angle) * 2) / low.length;
      im += (sample * Math.cos(angle) * 2) / low.length;
    });
    expect(Math.abs(20 * Math.log10(Math.hypot(re, im)))).toBeLessThan(0.3);
    expect(Math.abs(Math.atan2(im, re) / (2 * Math.PI * 1000))).toBeLessThan(5e-6);
    const high = read(12000);
    expect(10 * Math.log10(high.reduce((sum, sample) => sum + sample * sample, 0) / high.length)).toBeLessThan(-40);
  });
});
