import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { LagSearch } from '../../../core/lineup/lag-search.ts';
import { inventedRises } from './invented-rises.ts';

function kernelSearch(): LagSearch {
  const kernel = bleedKernel();
  if (kernel === null) throw new Error('no SIMD in WebAssembly');
  return new LagSearch(kernel);
}

describe('searching for lags', () => {
  it.each([1, 2, 3])('finds the same to the last bit in the kernel and in plain TypeScript (seed %i)', (seed) => {
    const [guide, take, other] = [
      inventedRises(seed, 700),
      inventedRises(seed + 10, 900),
      inventedRises(seed + 20, 333),
    ];
    const [one, two] = [kernelSearch(), new LagSearch(null)];
    // The guide's spectra are kept for the second, not for the third, which is of another size.
    for (const [first, second] of [
      [guide, take],
      [guide, inventedRises(seed + 30, 850)],
      [other, inventedRises(seed + 40, 100)],
      [guide, take],
    ] as const) {
      const peaks = one.peaks(first, second);
      expect(peaks).toEqual(two.peaks(first, second));
      expect(peaks.byLine.length).toBe(12);
      expect(peaks.broad.length).toBe(12);
    }
  });

  it('finds the lag at which the same notes begin again, also when another searched in between (seed 7)', () => {
    const [guide, take] = [inventedRises(7, 600), inventedRises(7, 640)];
    const [one, two] = [kernelSearch(), kernelSearch()];
    const { byLine, broad } = one.peaks(guide, take);
    expect(byLine[0]!.lagSec).toBe(0);
    expect(byLine[0]!.height).toBeGreaterThan(2 * byLine[1]!.height);
    expect(broad[0]!.lagSec).toBe(0);
    two.peaks(inventedRises(8, 600), take);
    expect(one.peaks(guide, take)).toEqual({ byLine, broad });
  });

  it('finds the same in both where a recording has one frame, or two or three', () => {
    const [one, two] = [kernelSearch(), new LagSearch(null)];
    for (const frames of [1, 2, 3, 60]) {
      for (const others of [1, 2, 3, 61]) {
        const [first, second] = [inventedRises(9, frames), inventedRises(10, others)];
        const peaks = one.peaks(first, second);
        expect(peaks, `${frames} frames and ${others}`).toEqual(two.peaks(first, second));
        expect(peaks.byLine.every(({ height }) => Number.isFinite(height))).toBe(true);
      }
    }
  });

  it('finds nothing in nothing', () => {
    const none = inventedRises(1, 0);
    expect(kernelSearch().peaks(none, inventedRises(1, 50))).toEqual({ byLine: [], broad: [] });
  });
});
