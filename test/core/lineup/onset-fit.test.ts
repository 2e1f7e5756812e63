import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { fitOnsets } from '../../../core/lineup/onset-fit.ts';
import { FRAME_SEC } from '../../../core/lineup/trace.ts';
import { inventedRises } from './invented-rises.ts';

describe('fitting note beginnings', () => {
  it.each([
    [1, 0, 0, false],
    [2, 0.31, 240, false],
    [3, -0.7, -90, true],
    [4, 3.2, 0, true],
  ] as const)(
    'gives the same to the last bit in the kernel and in plain TypeScript (seed %i, lead %f s, %i ppm, broad %s)',
    (seed, leadSec, driftPpm, broad) => {
      const kernel = bleedKernel();
      if (kernel === null) throw new Error('no SIMD in WebAssembly');
      const [reference, take] = [inventedRises(seed, 1500), inventedRises(seed, 1600)];
      for (const [fromSec, toSec] of [
        [0, Number.POSITIVE_INFINITY],
        [9, 21.5],
      ] as const) {
        const fitBy = (by: typeof kernel | null) =>
          fitOnsets(reference, take, leadSec, driftPpm, broad, fromSec, toSec, by);
        const fitted = fitBy(kernel);
        expect(fitted).toEqual(fitBy(null));
        if (leadSec === 0) expect(fitted?.stretches).toBeGreaterThan(1);
      }
    },
  );

  it('fits nothing in either where a recording is shorter than what is compared', () => {
    const whole = inventedRises(6, 700);
    for (const frames of [0, 1, 12]) {
      for (const by of [bleedKernel(), null]) {
        for (const broad of [true, false]) {
          const short = inventedRises(7, frames);
          expect(fitOnsets(short, whole, 0, 0, broad, 0, Number.POSITIVE_INFINITY, by)).toBeUndefined();
          expect(fitOnsets(whole, short, 0, 0, broad, 0, Number.POSITIVE_INFINITY, by)).toBeUndefined();
        }
      }
    }
  });

  it('finds a take two frames later than assumed, within a millisecond (seed 5)', () => {
    const [reference, take] = [inventedRises(5, 1500), inventedRises(5, 1500)];
    const fit = fitOnsets(reference, take, -2 * FRAME_SEC, 0, false)!;
    expect(Math.abs(fit.laterSec - 2 * FRAME_SEC)).toBeLessThan(0.001);
    expect(fit.contrast).toBeGreaterThan(3);
  });
});
