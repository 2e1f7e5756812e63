import { describe, expect, it } from 'vitest';
import { NearInterpolator } from '../../../core/signal/near-interpolator.ts';
import { PlacedSound } from '../../../core/signal/placed-sound.ts';
import { Random } from '../../../core/signal/random.ts';
import { RateConverter } from '../../../core/signal/rate-converter.ts';
import { makeInterpolator } from '../../../core/signal/resample.ts';
import { SimdNearInterpolator } from '../../../core/signal/simd-near-interpolator.ts';
import type { Sound } from '../../../core/signal/sound.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { runInBlocks, snrDb } from '../../processor-suite.ts';

/** A sine without end; cycles per input frame. */
function sine(cycles: number): { read(from: number, target: Float32Array): void } {
  return {
    read(from, target) {
      for (let n = 0; n < target.length; n++) target[n] = Math.sin(2 * Math.PI * ((cycles * (from + n)) % 1) + 0.4);
    },
  };
}

/** Error of the interpolated sine against the true one, dB below it, over 2000 places. */
function errorDb(step: number, cycles: number, start: number): number {
  const output = new Float32Array(2000);
  makeInterpolator(step).run(sine(cycles), start, 0, output, 0, output.length);
  let error = 0;
  for (const [k, value] of output.entries()) {
    error += (value - Math.sin(2 * Math.PI * cycles * (start + k * step) + 0.4)) ** 2;
  }
  return 10 * Math.log10(error / (output.length / 2));
}

describe('the interpolator', () => {
  const steps: readonly [string, number][] = [
    ['60 ppm', 1.00006],
    ['-300 ppm', 0.9997],
    ['half a frame late', 1],
    ['44.1 to 48 kHz', 44100 / 48000],
    ['16 to 48 kHz', 1 / 3],
    ['96 to 48 kHz', 2],
    ['192 to 48 kHz at 100 ppm', 4.0004],
    ['48 to 44.1 kHz', 48000 / 44100],
  ];
  for (const [name, step] of steps) {
    it(`${name}: a sine sweep in 12 steps comes out right to -100 dB, up to 0.88 of the Nyquist frequency`, () => {
      for (let index = 0; index <= 11; index++) {
        const part = 0.01 + (0.87 * index) / 11;
        // A phase of a half is the hardest; the places of the other steps pass through all phases.
        expect(errorDb(step, (part * 0.5) / Math.max(1, step), 1000.5), `at ${part} of Nyquist`).toBeLessThan(-100);
      }
    });

    it(`${name}: at 0.9 of the Nyquist frequency the level is right within 0.02 dB`, () => {
      const output = new Float32Array(20_000);
      makeInterpolator(step).run(sine(0.45 / Math.max(1, step)), 1000.5, 0, output, 0, output.length);
      const power = output.reduce((sum, value) => sum + value * value, 0) / output.length;
      expect(Math.abs(10 * Math.log10(2 * power))).toBeLessThan(0.02);
    });
  }

  it('leaves nothing above -98 dB of sound that the lower rate cannot hold', () => {
    for (const step of [2, 4, 48000 / 44100]) {
      for (const part of [1.1, 1.3, 1.7]) {
        const cycles = (part * 0.5) / step;
        if (cycles > 0.5) continue;
        const output = new Float32Array(4000);
        makeInterpolator(step).run(sine(cycles), 0.3, 0, output, 0, output.length);
        const power = output.reduce((sum, value) => sum + value * value, 0) / output.length;
        // Kaiser's formula says -100 dB; its edge ripple is 2 dB off.
        expect(10 * Math.log10(2 * power), `${part} of Nyquist, step ${step}`).toBeLessThan(-98);
      }
    }
  });

  it('is the SIMD kernel for steps up to 1.01, and equal to its plain twin to 120 dB at every step and start', () => {
    for (const step of [1.00006, 0.9997, 1, 44100 / 48000, 1 / 3, 1 / 6, 1.01]) {
      const simd = makeInterpolator(step);
      expect(simd).toBeInstanceOf(SimdNearInterpolator);
      for (const start of [0, 0.25, -3.5, 12_345.678]) {
        const made = new Float32Array(3001);
        const twin = new Float32Array(3001);
        simd.run(sine(0.17), start, 5, made, 0, made.length);
        new NearInterpolator(step).run(sine(0.17), start, 5, twin, 0, twin.length);
        // Single precision over 40 taps.
        expect(snrDb([twin], [made]), `step ${step}, start ${start}`).toBeGreaterThan(120);
      }
    }
  });

  it('60 ppm: the plain twin is right to -100 dB as well', () => {
    for (const part of [0.01, 0.3, 0.6, 0.88]) {
      const output = new Float32Array(2000);
      new NearInterpolator(1.00006).run(sine(part / 2), 1000.5, 0, output, 0, output.length);
      const wanted = output.map((_, k) => Math.sin(Math.PI * part * (1000.5 + k * 1.00006) + 0.4));
      expect(snrDb([wanted], [output])).toBeGreaterThan(100);
    }
  });

  it('refuses a step past 32', () => {
    expect(() => makeInterpolator(40)).toThrow(RangeError);
  });
});

describe('PlacedSound', () => {
  const seed = 12;
  const random = new Random(seed);
  const noise = Float32Array.from({ length: 48_000 }, () => random.uniform() - 0.5);

  it('copies to the bit at the session rate, without drift, on whole frames', () => {
    const placed = new PlacedSound(soundOf(noise, 48000), { offsetSec: 0.25, driftPpm: 0, sessionRateHz: 48000 });
    expect(placed.firstFrame).toBe(12_000);
    expect(placed.lengthFrames).toBe(60_000);
    const all = new Float32Array(61_000);
    placed.read(-500, all);
    expect(all.subarray(0, 12_500).every((value) => value === 0)).toBe(true);
    expect(all.subarray(12_500, 60_500)).toEqual(noise);
    expect(all.subarray(60_500).every((value) => value === 0)).toBe(true);
  });

  it('gives the same frames however they are asked for, and 0 outside the recording', () => {
    for (const [rate, offsetSec, driftPpm] of [
      [48000, 0.1234567, 57.3],
      [44100, -0.5, -120],
      [96000, 0.01, 0],
    ] as const) {
      const place = { offsetSec, driftPpm, sessionRateHz: 48000 };
      const whole = new PlacedSound(soundOf(noise, rate), place);
      const length = whole.lengthFrames + 200;
      const all = new Float32Array(length);
      whole.read(0, all);
      const placed = new PlacedSound(soundOf(noise, rate), place);
      const cuts = new Random(seed + 1);
      for (let count = 0; count < 60; count++) {
        const from = Math.floor(cuts.uniform() * (length - 3000));
        const part = new Float32Array(1 + Math.floor(cuts.uniform() * 3000));
        placed.read(from, part);
        const same = part.every((value, n) => value === all[from + n]);
        expect(same, `seed ${seed}, from ${from}`).toBe(true);
      }
      expect(all.subarray(0, Math.max(0, whole.firstFrame)).every((value) => value === 0)).toBe(true);
      expect(all.subarray(whole.lengthFrames).every((value) => value === 0)).toBe(true);
      expect(Math.abs(all[Math.max(0, whole.firstFrame)]!)).toBeGreaterThan(0);
    }
  });

  it('places an offset of a fraction of a frame within 1e-4 frames', () => {
    const samples = Float32Array.from({ length: 9600 }, (_, n) => Math.sin((2 * Math.PI * 1000 * n) / 48000));
    for (const fraction of [0.1, 0.5, 0.9]) {
      const offsetSec = (100 + fraction) / 48000;
      const placed = new PlacedSound(soundOf(samples, 48000), { offsetSec, driftPpm: 0, sessionRateHz: 48000 });
      const out = new Float32Array(9600);
      placed.read(0, out);
      let sin = 0;
      let cos = 0;
      for (let n = 960; n < 8640; n++) {
        sin += out[n]! * Math.sin((2 * Math.PI * 1000 * n) / 48000);
        cos += out[n]! * Math.cos((2 * Math.PI * 1000 * n) / 48000);
      }
      const delayFrames = (Math.atan2(-cos, sin) / (2 * Math.PI)) * 48;
      const expected = (100 + fraction) % 48;
      expect(Math.abs(((delayFrames + 48) % 48) - expected)).toBeLessThan(1e-4);
    }
  });

  it('keeps drifts of 20, -100 and 300 ppm exact to 0.001 frames after 15 min and after 10 h', () => {
    for (const driftPpm of [20, -100, 300]) {
      for (const atSec of [900, 36_000]) {
        // A pulse of 1 ms, wide enough to be sampled well, at a known take time that is never stored as a whole.
        const own = 48000 * (1 + driftPpm * 1e-6);
        const centre = Math.round(atSec * own) + 0.3;
        const pulse: Sound = {
          rateHz: 48000,
          lengthFrames: 48000 * 40_000,
          read(from, target) {
            for (let n = 0; n < target.length; n++) target[n] = Math.exp(-(((from + n - centre) / 12) ** 2));
          },
        };
        const placed = new PlacedSound(pulse, { offsetSec: 2.5, driftPpm, sessionRateHz: 48000 });
        const expected = (centre / own + 2.5) * 48000;
        const from = Math.floor(expected) - 200;
        const out = new Float32Array(400);
        placed.read(from, out);
        let sum = 0;
        let moment = 0;
        for (const [n, value] of out.entries()) {
          sum += value;
          moment += value * (from + n - expected);
        }
        expect(Math.abs(moment / sum), `${driftPpm} ppm after ${atSec} s`).toBeLessThan(0.001);
      }
    }
  });

  it('ends before session time zero: has no frames', () => {
    const placed = new PlacedSound(soundOf(noise, 48000), { offsetSec: -5, driftPpm: 0, sessionRateHz: 48000 });
    expect(placed.lengthFrames).toBe(0);
    const out = new Float32Array(10).fill(1);
    placed.read(0, out);
    expect(out.every((value) => value === 0)).toBe(true);
  });
});

describe('RateConverter', () => {
  it('gives ceil(frames * to / from) frames, the same in blocks of 1, 100 and 4096 and as PlacedSound does', () => {
    const random = new Random(3);
    const noise = Float32Array.from({ length: 10_001 }, () => random.uniform() - 0.5);
    for (const [from, to] of [
      [44100, 48000],
      [96000, 48000],
      [48000, 44100],
    ] as const) {
      const placed = new PlacedSound(soundOf(noise, from), { offsetSec: 0, driftPpm: 0, sessionRateHz: to });
      const expected = new Float32Array(Math.ceil((noise.length * to) / from));
      placed.read(0, expected);
      for (const size of [1, 100, 4096]) {
        const converted = runInBlocks(new RateConverter(2, from, to), [noise, noise], size);
        expect(converted[0]!.length).toBe(expected.length);
        expect(snrDb([expected, expected], converted)).toBe(Number.POSITIVE_INFINITY);
      }
    }
  });

  it('is as new after reset, and passes equal rates through', () => {
    const samples = Float32Array.from({ length: 3000 }, (_, n) => Math.sin(n / 9));
    const converter = new RateConverter(1, 32000, 48000);
    const first = runInBlocks(converter, [samples], 500);
    converter.reset();
    expect(runInBlocks(converter, [samples], 500)).toEqual(first);
    expect(runInBlocks(new RateConverter(1, 48000, 48000), [samples], 500)[0]).toEqual(samples);
  });
});
