import { describe, expect, it } from 'vitest';
import { TriangularDither } from '../../core/mix/dither.ts';
import { Limiter } from '../../core/mix/limiter.ts';
import { placeGains } from '../../core/mix/place.ts';
import { Random } from '../../core/signal/random.ts';
import { decodeSamples, encodeSamples } from '../../core/wave/samples.ts';
import { truePeak8xDb } from '../core/mix/true-peak-8x.ts';
import { runInBlocks } from '../processor-suite.ts';

describe('places against the constant-power law', () => {
  it('CV-7.1: p = 0.25 gives 0.923880 / 0.382683, the middle 0.707107 on both sides (-3.0103 dB)', () => {
    const quarter = placeGains(-45);
    expect(quarter.left).toBeCloseTo(0.92388, 6);
    expect(quarter.right).toBeCloseTo(0.382683, 6);
    expect(20 * Math.log10(quarter.left)).toBeCloseTo(-0.6877, 4);
    expect(20 * Math.log10(quarter.right)).toBeCloseTo(-8.3432, 4);
    const middle = placeGains(0);
    expect(20 * Math.log10(middle.left)).toBeCloseTo(-3.0103, 4);
    expect(middle.right).toBeCloseTo(middle.left, 15);
  });

  it('CV-7.1: the squares of both sides sum to 1 within 1e-15 at every degree', () => {
    for (let degrees = -90; degrees <= 90; degrees++) {
      const { left, right } = placeGains(degrees);
      expect(Math.abs(left * left + right * right - 1)).toBeLessThan(1e-15);
    }
  });
});

describe('dither against Lipshitz, Wannamaker & Vanderkooy 1992', () => {
  const seed = 2024;
  const count = 400_000;
  const step = 2 / 65536;
  const random = new Random(seed);
  // A slow, soft sine of some steps: the hardest case for undithered rounding.
  const sound = Float32Array.from({ length: count }, (_, n) => 3.3 * step * Math.sin(n / 37) + step * random.uniform());
  const dithered = decodeSamples(encodeSamples([sound], 'pcm16', new TriangularDither(seed + 1)), 'pcm16', 1)[0]!;
  const error = Float64Array.from(dithered, (value, n) => (value - sound[n]!) / step);

  function mean(values: Float64Array): number {
    return values.reduce((sum, value) => sum + value, 0) / values.length;
  }

  it('CV-7.3: the error power is a quarter of a squared step, -96.33 dB re 1.0, within 1 %', () => {
    const power = mean(error.map((value) => value * value));
    // Standard error of the estimate over 400000 samples is 0.2 %.
    expect(power / 0.25).toBeGreaterThan(0.99);
    expect(power / 0.25).toBeLessThan(1.01);
    expect(10 * Math.log10(power * step * step)).toBeCloseTo(-96.33, 1);
  });

  it('CV-7.3: the error has mean 0, and neither it nor its square follows the sound', () => {
    expect(Math.abs(mean(error))).toBeLessThan(0.004);
    const level = Float64Array.from(sound, (value) => value / step);
    const spread = Math.sqrt(mean(level.map((value) => value * value)));
    const withSound = mean(error.map((value, n) => value * level[n]!)) / (0.5 * spread);
    const square = mean(error.map((value, n) => (value * value - 0.25) * level[n]!)) / (0.25 * spread);
    // Five standard errors of a correlation over 400000 samples.
    expect(Math.abs(withSound)).toBeLessThan(0.008);
    expect(Math.abs(square)).toBeLessThan(0.012);
  });

  it('CV-7.3: without dither the rounding leaves a twelfth of a squared step', () => {
    const rounded = decodeSamples(encodeSamples([sound], 'pcm16'), 'pcm16', 1)[0]!;
    const power = mean(Float64Array.from(rounded, (value, n) => ((value - sound[n]!) / step) ** 2));
    expect(power * 12).toBeGreaterThan(0.98);
    expect(power * 12).toBeLessThan(1.02);
  });

  it('CV-7.3: is 2 steps wide and gives the same bytes from the same seed', () => {
    const dither = new TriangularDither(seed);
    const values = Float64Array.from({ length: 100_000 }, () => dither.next());
    expect(Math.max(...values.subarray(0, 50_000))).toBeLessThanOrEqual(1);
    expect(Math.min(...values.subarray(0, 50_000))).toBeGreaterThanOrEqual(-1);
    // Variance of a triangle 2 steps wide: a sixth.
    expect(mean(values.map((value) => value * value)) * 6).toBeCloseTo(1, 1);
    const bytes = (): Buffer => Buffer.from(encodeSamples([sound], 'pcm16', new TriangularDither(7)));
    expect(bytes().equals(bytes())).toBe(true);
  });
});

describe('limiter against a peak between the samples', () => {
  it('CV-7.4: a sine at fs/4, 45 degrees, samples at -1 dBFS (+1.98 dBTP) comes out at -1 dBTP', () => {
    const amplitude = 10 ** (-1 / 20) * Math.SQRT2;
    const frames = 48_000;
    const fade = 2400;
    const tone = Float32Array.from({ length: frames }, (_, n) => {
      const edge = Math.min(1, n / fade, (frames - 1 - n) / fade);
      return amplitude * edge * Math.sin((Math.PI / 2) * n + Math.PI / 4);
    });
    expect(truePeak8xDb([tone])).toBeCloseTo(1.98, 1);
    const output = runInBlocks(new Limiter({ rateHz: 48000, channels: 1, ceilingDbtp: -1 }), [tone], 512);
    const peak = truePeak8xDb(output);
    expect(peak).toBeLessThanOrEqual(-1);
    expect(peak).toBeGreaterThan(-1.1);
  });
});
