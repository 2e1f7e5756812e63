import { BLEED_REACH_SEC, LAG_HZ } from './bleed-rows.ts';
import { cubicAt } from './cubic-row.ts';

/** A point lies within this of the path, s: lobes of the correlation are 0.5 ms away. */
export const NEAR_SEC = 0.0004;
/** Parts whose lowest is at least this share of the highest show the leakage evenly. */
const EVEN_SHARE = 0.65;
/** The highest of some lags near a line is up to this by chance, standard deviations, and clear from that on. */
const CHANCE_HEIGHT = 2.2;
const CLEAR_HEIGHT = 4.2;
/** Correlations along a line, their session times, s, and their variances. */
export interface Rows {
  readonly rows: readonly Float64Array[];
  readonly times: readonly number[];
  readonly variances: readonly number[];
}

/** Session times between which leakage is not heard as it should be, s. */
export interface Missing {
  readonly fromSec: number;
  readonly toSec: number;
}

/** A part of a take, session times, and how high the leakage is in it. */
export interface Part {
  readonly fromSec: number;
  readonly toSec: number;
  readonly height: number;
}

/** Four parts of a take that could show the leakage alike. */
export function partsOf({ rows, times, variances }: Rows): Part[] {
  const total = variances.reduce((sum, variance) => sum + variance, 0);
  const ends: number[] = [];
  let passed = 0;
  variances.forEach((variance, i) => {
    passed += variance;
    if (4 * passed >= (ends.length + 1) * total && ends.length < 3) ends.push(i + 1);
  });
  const borders = [0, ...ends, rows.length];
  return borders.slice(1).flatMap((to, n) => {
    const from = borders[n]!;
    if (to <= from) return [];
    const [some, inside] = [rows.slice(from, to), variances.slice(from, to)];
    const height = heightOnLine({ rows: some, variances: inside });
    return [{ fromSec: times[from]!, toSec: times[to - 1]!, height }];
  });
}

/** Whether all of them show it. */
export function isEven(parts: readonly Part[]): boolean {
  const heights = parts.map((part) => part.height);
  return Math.min(...heights) >= EVEN_SHARE * Math.max(...heights);
}

/** The part that shows no more than chance where the better half of them shows the leakage clearly. */
export function missingOf(parts: readonly Part[]): Missing | undefined {
  const sorted = [...parts].sort((a, b) => b.height - a.height);
  const lowest = sorted.at(-1)!;
  if (sorted.length < 3 || sorted[1]!.height < CLEAR_HEIGHT || lowest.height > CHANCE_HEIGHT) return undefined;
  return { fromSec: lowest.fromSec, toSec: lowest.toSec };
}

/** Height of all rows together on the line they were read along, lobes beside it not counted. */
export function heightOnLine({ rows, variances }: Pick<Rows, 'rows' | 'variances'>): number {
  const middle = BLEED_REACH_SEC * LAG_HZ;
  let most = 0;
  for (let lag = middle - NEAR_SEC * LAG_HZ; lag <= middle + NEAR_SEC * LAG_HZ; lag++) {
    let sum = 0;
    for (let i = 0; i < rows.length; i++) sum += cubicAt(rows[i]!, lag);
    most = Math.max(most, sum);
  }
  return most / Math.sqrt(variances.reduce((sum, variance) => sum + variance, 0) || 1);
}
