import { describe, expect, it } from 'vitest';
import { type Fit, NEAREST, planeFits, type Rows, type Used } from '../../../core/pitch/plane-fits.ts';
import { trendKernel } from '../../../core/pitch/trend/kernel/trend-kernel.ts';
import { Random } from '../../../core/signal/random.ts';

const BOUND = 4.685 * 6;

/** Notes about a plane, some of them out of line, in seven groups. */
function invented(seed: number, length: number): { rows: Rows; groups: Int32Array } {
  const random = new Random(seed);
  const first = Float64Array.from({ length }, (_, n) => (2 * n) / length - 1);
  const second = Float64Array.from({ length }, () => Math.floor(14 * random.uniform()) / 12);
  const off = (): number => (random.uniform() < 0.1 ? 60 * random.gaussian() : 6 * random.gaussian());
  const cents = Float64Array.from(first, (x, n) => 4 - 9 * x + 5 * second[n]! + off());
  return { rows: { first, second, cents }, groups: Int32Array.from(first, () => Math.floor(7 * random.uniform())) };
}

/** As it was before it made no arrays: weights first, then the sums, then the elimination. */
function weighedAnew(rows: Rows, used: Used, start: Fit, turns: number, bound: number, kept: readonly boolean[]): Fit {
  const { first, second, cents } = rows;
  let fit = start;
  for (let turn = 0; turn < turns; turn++) {
    const weights = Array.from(cents, (value, n) => {
      const rest = value - fit[0] - first[n]! * fit[1] - second[n]! * fit[2];
      if (!kept[n]) return 0;
      if (bound === NEAREST) return 1 / Math.max(0.5, Math.abs(rest));
      const share = rest / bound;
      return Math.abs(share) >= 1 ? 0 : (1 - share * share) * (1 - share * share);
    });
    const rowOf = (n: number): number[] => [1, first[n]!, second[n]!, cents[n]!];
    const m = [0, 1, 2].map((i) =>
      [0, 1, 2, 3].map((k) => {
        // The sums of a symmetric matrix: the earlier column is weighed.
        const [a, b] = [Math.min(i, k), Math.max(i, k)];
        return weights.reduce((sum, weight, n) => (weight === 0 ? sum : sum + weight * rowOf(n)[a]! * rowOf(n)[b]!), 0);
      }),
    );
    const total = m[0]![0]!;
    const isFree = [0, 1, 2].map((i) => {
      if (!(used[i]! && m[i]![i]! > 1e-9 * total)) return false;
      for (const j of [0, 1, 2].filter((one) => one !== i)) {
        const share = m[j]![i]! / m[i]![i]!;
        for (let k = 0; k < 4; k++) m[j]![k]! -= share * m[i]![k]!;
      }
      return true;
    });
    const value = (i: number): number => (isFree[i] ? m[i]![3]! / m[i]![i]! : 0);
    fit = [value(0), value(1), value(2)];
  }
  return fit;
}

describe('fits of a plane to notes', () => {
  const start: Fit = [1, 0, 0];

  it.each([
    [1, [true, true, true]],
    [2, [true, true, false]],
    [3, [true, false, true]],
  ] as const)(
    'are those of separate steps to the last bit, with and without a group (seed %i, used %j)',
    (seed, used) => {
      const { rows, groups } = invented(seed, 90);
      const kernel = trendKernel();
      if (kernel === null) throw new Error('no SIMD in WebAssembly');
      const all = Array.from(groups, () => true);
      const rough = weighedAnew(rows, used, start, 12, NEAREST, all);
      const without = Array.from({ length: 7 }, (_, group) =>
        weighedAnew(
          rows,
          used,
          rough,
          6,
          BOUND,
          Array.from(groups, (one) => one !== group),
        ),
      );
      const [one, two] = [planeFits(rows, used, kernel), planeFits(rows, used, null)];
      for (const fits of [one, two]) {
        expect(fits.fit(start, 12, NEAREST)).toEqual(rough);
        expect(fits.fitsWithout(rough, 6, BOUND, groups, 7)).toEqual(without);
      }
      expect(one.variances(rough, BOUND, 9)).toEqual(two.variances(rough, BOUND, 9));
      expect(one.variances(rough, BOUND, 9).every((variance) => variance >= 0 && variance < 9)).toBe(true);
    },
  );

  it('leave out what nothing tells of: all notes of one height (seed 4)', () => {
    const { rows } = invented(4, 40);
    const level = { ...rows, second: new Float64Array(40) };
    for (const kernel of [trendKernel(), null]) {
      expect(planeFits(level, [true, true, true], kernel).fit(start, 6, BOUND)[2]).toBe(0);
    }
  });
});
