import { describe, expect, it } from 'vitest';
import { loadKernel } from '../../../../core/noise/kernel/kernel.ts';
import { RealFft } from '../../../../core/signal/fft.ts';
import { Random } from '../../../../core/signal/random.ts';

const SIZES = [512, 1024, 2048, 4096, 8192, 16384];
const kernel = loadKernel()!;

function relativeRms(actual: ArrayLike<number>, expected: ArrayLike<number>): number {
  let error = 0;
  let power = 0;
  for (let n = 0; n < expected.length; n++) {
    error += (actual[n]! - expected[n]!) ** 2;
    power += expected[n]! ** 2;
  }
  return Math.sqrt(error / power);
}

function noise(size: number, seed: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: size }, () => 0.3 * random.gaussian());
}

describe('kernel FFT', () => {
  it.each(SIZES)('CV-4.1: %i samples of noise agree with the double transform within 1e-6 rms', (size) => {
    const plan = kernel.plan({ size, hop: size / 4 });
    const x = noise(size, size + 1);
    plan.scratch.set(x);
    plan.forwardOnce();
    const re = new Float64Array(size / 2 + 1);
    const im = new Float64Array(size / 2 + 1);
    new RealFft(size).forward(Float64Array.from(x), re, im);
    const { re: kernelRe, im: kernelIm, power } = plan.single;
    expect(relativeRms([...kernelRe, ...kernelIm], [...re, ...im])).toBeLessThan(1e-6);
    // Squaring doubles the relative error.
    expect(
      relativeRms(
        power,
        re.map((value, k) => value ** 2 + im[k]! ** 2),
      ),
    ).toBeLessThan(2e-6);
    expect(kernelIm[0]! ** 2 + kernelIm[size / 2]! ** 2).toBe(0);
  });

  it.each(SIZES)('CV-4.1: one-sided Parseval holds within 2e-6 at %i', (size) => {
    const plan = kernel.plan({ size, hop: size / 4 });
    const x = noise(size, 7);
    plan.scratch.set(x);
    plan.forwardOnce();
    const time = x.reduce((total, value) => total + value ** 2, 0);
    const { power } = plan.single;
    let frequency = power[0]! + power[size / 2]!;
    for (let k = 1; k < size / 2; k++) frequency += 2 * power[k]!;
    expect(Math.abs(frequency / size / time - 1)).toBeLessThan(2e-6);
  });

  it.each(SIZES)('returns %i samples after forward and inverse within 1e-6 rms', (size) => {
    const plan = kernel.plan({ size, hop: size / 4 });
    const x = noise(size, size + 3);
    plan.scratch.set(x);
    plan.forwardOnce();
    plan.scratch.fill(0);
    plan.inverseOnce();
    expect(relativeRms(plan.scratch, x)).toBeLessThan(1e-6);
  });

  it.each(SIZES)('inverts a spectrum under gains at %i like the double transform, within 1e-6 rms', (size) => {
    const plan = kernel.plan({ size, hop: size / 4 });
    const random = new Random(size + 5);
    const { re, im, gain } = plan.single;
    for (let k = 0; k < plan.bins; k++) {
      re[k] = random.gaussian();
      im[k] = k % (size / 2) === 0 ? 0 : random.gaussian();
      gain[k] = random.uniform();
    }
    const expected = new Float64Array(size);
    const weighted = (part: Float32Array): Float64Array => Float64Array.from(part, (value, k) => value * gain[k]!);
    new RealFft(size).inverse(weighted(re), weighted(im), expected);
    plan.inverseOnce();
    expect(relativeRms(plan.scratch, expected)).toBeLessThan(1e-6);
  });

  it('CV-4.1: a cosine in bin 2 of 512 gives N/2 there and nothing elsewhere', () => {
    const plan = kernel.plan({ size: 512, hop: 128 });
    plan.scratch.set(Float32Array.from({ length: 512 }, (_, n) => Math.cos((2 * Math.PI * 2 * n) / 512)));
    plan.forwardOnce();
    const { re, power } = plan.single;
    expect(re[2]).toBeCloseTo(256, 3);
    const rest = power.reduce((total, value, k) => (k === 2 ? total : total + value), 0);
    // Single precision: each bin within about 256 * 1e-7.
    expect(rest).toBeLessThan(1e-6);
  });
});
