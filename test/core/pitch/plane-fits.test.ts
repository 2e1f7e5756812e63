import { describe, expect, it } from 'vitest';
import { type Fit, NEAREST, PlaneFits, type Rows, type Used } from '../../../core/pitch/plane-fits.ts';
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
      const fits = new PlaneFits(rows, used);
      const all = Array.from(groups, () => true);
      const rough = fits.fit(start, 12, NEAREST);
      expect(rough).toEqual(weighedAnew(rows, used, start, 12, NEAREST, all));
      for (let group = 0; group < 7; group++) {
        const kept = Array.from(groups, (one) => one !== group);
        expect(fits.fit(rough, 6, BOUND, groups, group)).toEqual(weighedAnew(rows, used, rough, 6, BOUND, kept));
      }
    },
  );

  it('leave out what nothing tells of: all notes of one height (seed 4)', () => {
    const { rows } = invented(4, 40);
    const level = { ...rows, second: new Float64Array(40) };
    expect(new PlaneFits(level, [true, true, true]).fit(start, 6, BOUND)[2]).toBe(0);
  });
});
