import { describe, expect, it } from 'vitest';
import { loadKernel } from '../../../../core/noise/kernel/kernel.ts';
import { decodeBase64 } from '../../../../core/signal/base64.ts';
import { Random } from '../../../../core/signal/random.ts';

const COUNT = 1 << 16;
const kernel = loadKernel()!;
const x = kernel.allocate(COUNT);
const y = kernel.allocate(COUNT);

function worst(expected: (value: number) => number): number {
  const input = kernel.floats(x, COUNT);
  const output = kernel.floats(y, COUNT);
  let largest = 0;
  for (let n = 0; n < COUNT; n++) {
    const truth = expected(input[n]!);
    const error = Math.abs(output[n]! - truth);
    if (error > 0) largest = Math.max(largest, error / Math.abs(truth));
  }
  return largest;
}

describe('kernel vector functions', () => {
  it('log2 is within 1e-6 relative from 2^-126 to 2^128', () => {
    const random = new Random(1);
    kernel.floats(x, COUNT).set(Float32Array.from({ length: COUNT }, () => 2 ** (254 * random.uniform() - 126)));
    kernel.exports.log2Array(x, y, COUNT);
    expect(worst(Math.log2)).toBeLessThan(1e-6);
  });

  it('log2 is within 1e-6 relative close to 1, where it crosses zero', () => {
    kernel.floats(x, COUNT).set(Float32Array.from({ length: COUNT }, (_, n) => 0.5 + (1.5 * n) / COUNT));
    kernel.exports.log2Array(x, y, COUNT);
    expect(worst(Math.log2)).toBeLessThan(1e-6);
  });

  it('exp2 is within 1e-6 relative from -126 to 127.4', () => {
    const random = new Random(2);
    kernel.floats(x, COUNT).set(Float32Array.from({ length: COUNT }, () => 253.4 * random.uniform() - 126));
    kernel.exports.exp2Array(x, y, COUNT);
    expect(worst((value) => 2 ** value)).toBeLessThan(1e-6);
  });

  it('holds the ends: log2 of 0 and of denormals is -126, exp2 stays finite and normal', () => {
    kernel.floats(x, 4).set([0, 1e-42, -1, Number.NaN]);
    kernel.exports.log2Array(x, y, 4);
    expect([...kernel.floats(y, 4)]).toEqual([-126, -126, -126, -126]);
    kernel.floats(x, 4).set([-1000, -126, 1000, 0]);
    kernel.exports.exp2Array(x, y, 4);
    const [low, lowest, high, one] = kernel.floats(y, 4);
    expect(low).toBe(lowest);
    expect(low! / 2 ** -126).toBeCloseTo(1, 6);
    expect(Math.log2(high!)).toBeCloseTo(127.5, 3);
    expect(one).toBeCloseTo(1, 6);
  });

  it.each([4, 12, 1028, COUNT])('sums, dots and maxima of %i numbers are within 1e-6 of the double ones', (count) => {
    const random = new Random(count);
    const a = Float32Array.from({ length: count }, () => random.uniform());
    const b = Float32Array.from({ length: count }, () => random.uniform());
    kernel.floats(x, count).set(a);
    kernel.floats(y, count).set(b);
    const sum = a.reduce((total, value) => total + value, 0);
    const dot = a.reduce((total, value, n) => total + value * b[n]!, 0);
    // Rounding of eight partial sums of up to 8192 terms each.
    const tolerance = count > 10000 ? 1e-5 : 1e-6;
    expect(Math.abs(kernel.exports.sum(x, count) / sum - 1)).toBeLessThan(tolerance);
    expect(Math.abs(kernel.exports.dot(x, y, count) / dot - 1)).toBeLessThan(tolerance);
    expect(kernel.exports.largest(x, count)).toBe(Math.max(...a));
  });
});

describe('kernel build', () => {
  it('decodes base64 of every length and byte like Node', () => {
    const random = new Random(3);
    for (let length = 0; length < 200; length++) {
      const bytes = Uint8Array.from({ length }, () => random.uint32() & 255);
      expect(decodeBase64(Buffer.from(bytes).toString('base64'))).toEqual(bytes);
    }
  });

  it('is undefined, for callers to fall back, where SIMD code does not validate', async () => {
    const { vi } = await import('vitest');
    vi.resetModules();
    vi.stubGlobal('WebAssembly', { validate: () => false });
    const fresh = await import('../../../../core/noise/kernel/kernel.ts');
    expect(fresh.loadKernel()).toBeUndefined();
    vi.stubGlobal('WebAssembly', undefined);
    expect(fresh.loadKernel()).toBeUndefined();
    vi.unstubAllGlobals();
    expect(fresh.loadKernel()).toBeDefined();
  });
});
