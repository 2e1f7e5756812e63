import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { type DriftSearch, type ShiftedRows, shiftedRows } from '../../../core/lineup/shifted-rows.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 43;
const LAG_HZ = 16000;

function rowsOf(random: Random, count: number, width: number): Float64Array[] {
  return Array.from({ length: count }, () => Float64Array.from({ length: width }, () => random.gaussian()));
}

/** The rows in the kernel, and in plain TypeScript. */
function bothOf(rows: readonly Float64Array[]): [ShiftedRows, ShiftedRows] {
  const kernel = bleedKernel();
  if (kernel === null) throw new Error('no SIMD in WebAssembly');
  return [shiftedRows(rows, kernel), shiftedRows(rows, null)];
}

/** Lag l of the sum, row by row. */
function summed(rows: readonly Float64Array[], shifts: readonly number[], lag: number): number {
  return rows.reduce((sum, row, i) => sum + (row[lag + shifts[i]!] ?? 0), 0);
}

describe('rows added up with shifts', () => {
  it(`gives the same to the last bit in the kernel and in plain TypeScript, and what single additions give (seed ${SEED})`, () => {
    const random = new Random(SEED);
    for (const [count, width, reach] of [
      [1, 16, 3],
      [4, 33, 5],
      [7, 1536, 60],
      [11, 64, 90],
      [8, 1537, 1],
    ] as const) {
      const rows = rowsOf(random, count, width);
      const shifts = rows.map(() => Math.round(reach * (2 * random.uniform() - 1)));
      const [one, two] = bothOf(rows);
      const line = one.lineOfRows(shifts).slice();
      expect(line).toEqual(two.lineOfRows(shifts));
      for (let lag = 0; lag < width; lag++)
        expect(Math.abs(line[lag]! - summed(rows, shifts, lag))).toBeLessThan(1e-12);
      // Once more, along other shifts: nothing is left of the first time.
      expect(one.lineOfRows([0])).toEqual(rows[0]);
      expect(two.lineOfRows([0])).toEqual(rows[0]);
    }
  });

  it.each([1, 2, 3, 4])(
    'finds the same highest point along drifts in both, at the drift that was laid into it (seed %i)',
    (seed) => {
      const random = new Random(seed);
      const [width, count] = [201, 40];
      const rows = rowsOf(random, count, width);
      const times = Float64Array.from(rows, (_, i) => 4 * i + 2 * random.uniform());
      const atSec = times[count >> 1]!;
      // Four groups of ten; drifts of up to 80 ppm in steps of 2.
      const starts = Int32Array.from([0, 10, 20, 30, 40]);
      const middles = Float64Array.from([0, 1, 2, 3], (n) => 0.5 * (times[10 * n]! + times[10 * n + 9]!));
      const [ppm, lag] = [[-60, 31, 4, 50][seed - 1]!, 90 + seed];
      for (let i = 0; i < count; i++) {
        rows[i]![Math.round(lag + (times[i]! - atSec) * ppm * 1e-6 * LAG_HZ)]! += 2.5;
      }
      const search: DriftSearch = {
        ...{ times, atSec, starts, middles, steps: 40, finePpm: 2, coarsePpm: 6, lagHz: LAG_HZ, total: count },
        penalty: Float64Array.from({ length: width }, (_, n) => 0.5 * ((n - 100) / 60) ** 2),
        rareness: Float64Array.from({ length: 81 }, (_, n) => Math.min(5, 0.5 * ((n - 40) / 20) ** 2)),
      };
      const [one, two] = bothOf(rows);
      const found = one.highestAlong(search);
      expect(found).toEqual(two.highestAlong(search));
      expect(Math.abs(found.ppm - ppm)).toBeLessThanOrEqual(8);
      expect(Math.abs(found.lag - lag)).toBeLessThanOrEqual(1);
      // Once more: nothing is left of the first time.
      expect(one.highestAlong(search)).toEqual(found);
    },
  );

  it(`sums what a line meets in each row alike in both, also where it leaves them (seed ${SEED})`, () => {
    const random = new Random(SEED);
    const rows = rowsOf(random, 9, 64);
    const apartSec = Float64Array.from(rows, (_, i) => 10 * (i - 4));
    const [one, two] = bothOf(rows);
    for (const [lag, ppm] of [
      [30, 0],
      [30.3, 12],
      [4.875, -80],
      [62.5, 7],
      [-3, 2],
    ] as const) {
      const sum = one.sumOnLine(apartSec, lag, ppm, LAG_HZ);
      expect(sum).toBe(two.sumOnLine(apartSec, lag, ppm, LAG_HZ));
      if (lag === 30) expect(Math.abs(sum - rows.reduce((all, row) => all + row[30]!, 0))).toBeLessThan(1e-12);
    }
  });
});
