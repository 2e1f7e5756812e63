import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { type HeldRows, HeldSums } from '../../../core/lineup/held-sums.ts';
import { type LagScores, lagScores } from '../../../core/lineup/lag-scores.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 17;

function rowsOf(random: Random, count: number, width: number): Float64Array[] {
  return Array.from({ length: count }, () => Float64Array.from({ length: width }, () => random.gaussian()));
}

/** The lags of the best way, last first, and the way of every other end. */
function waysOf(
  scores: LagScores,
  rows: readonly Float64Array[],
  reaches: readonly number[],
  jumpCost: number,
): number[] {
  rows.forEach((row, n) => {
    const said = { row, gain: 1.7, against: 0.4, least: -1.5 };
    const costs = Float64Array.from({ length: reaches[n]! + 1 }, (_, apart) => 0.1 * apart * apart);
    if (n === 0) scores.begin(said);
    else scores.goOn(said, costs, jumpCost);
  });
  const ways = [scores.best()];
  for (let n = rows.length - 1; n > 0; n--) {
    for (let lag = 0; lag < rows[0]!.length; lag++) ways.push(scores.cameFrom(n, lag));
  }
  return ways;
}

describe('scores of lags', () => {
  it.each([
    [1, 1],
    [2, 9],
    [7, 3],
    [40, 2],
    [129, 12],
    [1536, 5],
  ])(
    `come the same way in the kernel and in plain TypeScript: %i lags, straying by up to %i (seed ${SEED})`,
    (width, reach) => {
      const kernel = bleedKernel();
      if (kernel === null) throw new Error('no SIMD in WebAssembly');
      const random = new Random(SEED);
      const rows = rowsOf(random, 6, width);
      // Lags that are alike: the lowest is taken in both.
      for (const row of rows) for (let lag = 3; lag < width; lag += 4) row[lag] = row[lag - 1]!;
      const reaches = rows.map(() => Math.floor((reach + 1) * random.uniform()));
      for (const jumpCost of [0.3, 4]) {
        const plain = waysOf(lagScores(width, 6, null), rows, reaches, jumpCost);
        expect(waysOf(lagScores(width, 6, kernel), rows, reaches, jumpCost)).toEqual(plain);
      }
    },
  );

  it('follow what stands out, straying and jumping', () => {
    const width = 60;
    const path = [20, 21, 22, 22, 50, 51];
    const rows = path.map((lag) => Float64Array.from({ length: width }, (_, n) => (n === lag ? 6 : 0)));
    const scores = lagScores(width, rows.length);
    const ways = waysOf(
      scores,
      rows,
      path.map(() => 3),
      4,
    );
    const found = [ways[0]!];
    for (let n = rows.length - 1; n > 0; n--) found.unshift(scores.cameFrom(n, found[0]!));
    expect(found).toEqual(path);
  });
});

describe('sums of rows held against a clock', () => {
  it(`say the same to the last bit in the kernel and in plain TypeScript (seed ${SEED})`, () => {
    const kernel = bleedKernel();
    if (kernel === null) throw new Error('no SIMD in WebAssembly');
    const random = new Random(SEED);
    const rows = rowsOf(random, 7, 1536);
    const held: HeldRows = {
      rows,
      times: rows.map((_, n) => 3 * n),
      variances: rows.map(() => 1),
      lags: rows.map(() => 768 + 40 * random.gaussian()),
    };
    const said = (sums: HeldSums): Float64Array[] =>
      [2, 8, 19].flatMap((sec) =>
        (['after', 'before'] as const).map((side) => {
          const gains = new Float64Array(1537);
          sums.at(sec).addGains(side, gains);
          return gains;
        }),
      );
    const one = said(new HeldSums(held, kernel));
    expect(one).toEqual(said(new HeldSums(held, null)));
    expect(one.some((gains) => gains.some((gain) => gain > 1))).toBe(true);
  });
});
