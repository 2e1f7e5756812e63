import { describe, expect, it } from 'vitest';
import { medianOf } from '../../../core/pitch/pitch-span.ts';
import { medianOfRow, valueAtRank } from '../../../core/pitch/rank.ts';
import { Random } from '../../../core/signal/random.ts';

/** Rows of all lengths to 120: of chance, of few values that return, rising and falling. */
function rowsOf(random: Random): number[][] {
  return Array.from({ length: 121 }, (_, length) => [
    Array.from({ length }, () => random.gaussian()),
    Array.from({ length }, () => Math.floor(4 * random.uniform())),
    Array.from({ length }, (__, n) => n),
    Array.from({ length }, (__, n) => -n),
  ]).flat();
}

describe('a value at its rank', () => {
  const seed = 41;
  const rows = rowsOf(new Random(seed));

  it('is the one of the sorted row, at every rank', () => {
    for (const row of rows) {
      const sorted = [...row].sort((a, b) => a - b);
      for (const rank of row.keys())
        expect(valueAtRank(Float64Array.from(row), rank), `seed ${seed}`).toBe(sorted[rank]);
    }
    expect(valueAtRank(new Float64Array(0), 0)).toBeNaN();
  });

  it('gives the median that sorting all gives, of the first values alone too', () => {
    for (const row of rows) {
      expect(medianOfRow(Float64Array.from(row)), `seed ${seed}`).toEqual(medianOf(row));
      const half = row.length >> 1;
      expect(medianOfRow(Float64Array.from(row), half), `seed ${seed}`).toEqual(medianOf(row.slice(0, half)));
    }
  });
});
