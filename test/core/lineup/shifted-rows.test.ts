import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { shiftedRows } from '../../../core/lineup/shifted-rows.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 43;

/** Lag l of the sum, row by row. */
function summed(rows: readonly Float64Array[], shifts: readonly number[], lag: number): number {
  return rows.reduce((sum, row, i) => sum + (row[lag + shifts[i]!] ?? 0), 0);
}

describe('rows added up with shifts', () => {
  it(`gives the same to the last bit in the kernel and in plain TypeScript, and what single additions give (seed ${SEED})`, () => {
    const kernel = bleedKernel();
    if (kernel === null) throw new Error('no SIMD in WebAssembly');
    const random = new Random(SEED);
    for (const [count, width, reach] of [
      [1, 16, 3],
      [4, 33, 5],
      [7, 1536, 60],
      [11, 64, 90],
      [8, 1537, 1],
    ] as const) {
      const rows = Array.from({ length: count }, () => Float64Array.from({ length: width }, () => random.gaussian()));
      const some = rows.slice(0, Math.ceil(count / 2));
      const rest = rows.slice(some.length);
      const shifts = rows.map(() => Math.round(reach * (2 * random.uniform() - 1)));
      const [one, two] = [shiftedRows(rows, 2, kernel), shiftedRows(rows, 2, null)];
      for (const stack of [one, two]) {
        stack.sumRows(0, 0, shifts.slice(0, some.length));
        stack.sumRows(1, some.length, shifts.slice(some.length));
      }
      const moved = [2, -1];
      const line = one.lineOfSums(moved).slice();
      expect(line).toEqual(two.lineOfSums(moved));
      for (let lag = 0; lag < width; lag++) {
        const [first, second] = [some, rest].map((part, n) => {
          const at = lag + moved[n]!;
          return at < 0 || at >= width ? 0 : summed(part, n === 0 ? shifts : shifts.slice(some.length), at);
        });
        expect(Math.abs(line[lag]! - first! - second!)).toBeLessThan(1e-12);
      }
      const all = one.lineOfRows(shifts).slice();
      expect(all).toEqual(two.lineOfRows(shifts));
      for (let lag = 0; lag < width; lag++) expect(Math.abs(all[lag]! - summed(rows, shifts, lag))).toBeLessThan(1e-12);
      // Once more, along other shifts: nothing is left of the first time.
      for (const stack of [one, two]) stack.sumRows(0, 0, [0]);
      expect(one.lineOfSums([0])).toEqual(rows[0]);
      expect(two.lineOfSums([0])).toEqual(rows[0]);
    }
  });

  it(`sums what a line meets in each row alike in the kernel and in plain TypeScript, also where it leaves them (seed ${SEED})`, () => {
    const kernel = bleedKernel();
    if (kernel === null) throw new Error('no SIMD in WebAssembly');
    const random = new Random(SEED);
    const rows = Array.from({ length: 9 }, () => Float64Array.from({ length: 64 }, () => random.gaussian()));
    const apartSec = Float64Array.from(rows, (_, i) => 10 * (i - 4));
    const [one, two] = [shiftedRows(rows, 1, kernel), shiftedRows(rows, 1, null)];
    for (const [lag, ppm] of [
      [30, 0],
      [30.3, 12],
      [4.875, -80],
      [62.5, 7],
      [-3, 2],
    ] as const) {
      const sum = one.sumOnLine(apartSec, lag, ppm, 16000);
      expect(sum).toBe(two.sumOnLine(apartSec, lag, ppm, 16000));
      if (lag === 30) expect(Math.abs(sum - rows.reduce((all, row) => all + row[30]!, 0))).toBeLessThan(1e-12);
    }
  });
});
