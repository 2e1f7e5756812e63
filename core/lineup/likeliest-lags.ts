import type { Rows } from './bleed-parts.ts';
import { LAG_HZ } from './bleed-rows.ts';
import { lagScores } from './lag-scores.ts';

/** What a point may speak against the path at most: the player may have drowned the leakage there. */
const MOST_AGAINST = 5;
/** Spread of a clock's speed about the one that is assumed, ppm. */
const STRAY_PPM = 25;

/** Neighbouring rows, summed. */
export interface Sum {
  readonly row: Float64Array;
  readonly variance: number;
  /** Middle by variance, s. */
  readonly atSec: number;
  readonly from: number;
  readonly to: number;
}

/**
 * Sums of as many rows as have this standard deviation together, none across a border (row indexes, both ends among them);
 * what is left before a border goes with the last.
 */
export function sumsOf(all: Rows, borders: readonly number[], deviation: number): Sum[] {
  const sums: Sum[] = [];
  for (let b = 0; b + 1 < borders.length; b++) {
    let from = borders[b]!;
    const to = borders[b + 1]!;
    const starts: number[] = [from];
    let variance = 0;
    for (let i = from; i < to; i++) {
      variance += all.variances[i]!;
      if (variance < deviation ** 2) continue;
      starts.push(i + 1);
      variance = 0;
    }
    if (starts.length > 1) starts.pop();
    for (let n = 0; n < starts.length; n++) {
      from = starts[n]!;
      sums.push(sumOf(all, from, starts[n + 1] ?? to));
    }
  }
  return sums;
}

function sumOf({ rows, times, variances }: Rows, from: number, to: number): Sum {
  const row = rows[from]!.slice();
  let variance = variances[from]!;
  let moment = variances[from]! * times[from]!;
  for (let i = from + 1; i < to; i++) {
    const other = rows[i]!;
    for (let lag = 0; lag < row.length; lag++) row[lag]! += other[lag]!;
    variance += variances[i]!;
    moment += variances[i]! * times[i]!;
  }
  return { row, variance, atSec: variance > 0 ? moment / variance : times[from]!, from, to };
}

/** The likeliest lag of each step, in lag steps, and before which steps it jumps. */
export function likeliestLags(
  points: readonly Sum[],
  gain: number,
  jumpCost: number,
): { lags: number[]; jumps: number[] } {
  const scores = lagScores(points[0]!.row.length, points.length);
  for (let n = 0; n < points.length; n++) {
    const { row, variance, atSec } = points[n]!;
    const said = { row, gain, against: 0.5 * gain * gain * variance, least: -MOST_AGAINST };
    if (n === 0) scores.begin(said);
    else scores.goOn(said, costsOf(atSec - points[n - 1]!.atSec), jumpCost);
  }
  const path = new Array<number>(points.length);
  const jumps: number[] = [];
  let lag = scores.best();
  for (let n = points.length - 1; n >= 0; n--) {
    path[n] = lag;
    if (n === 0) break;
    const from = scores.cameFrom(n, lag);
    if (Math.abs(from - lag) > reachOf(points[n]!.atSec - points[n - 1]!.atSec)) jumps.unshift(n);
    lag = from;
  }
  return { lags: path, jumps };
}

function spreadOf(seconds: number): number {
  return Math.max(1, Math.abs(seconds) * STRAY_PPM * 1e-6 * LAG_HZ);
}

/** Lag steps that straying goes at most. */
function reachOf(seconds: number): number {
  return Math.ceil(3 * spreadOf(seconds));
}

/** What straying by each number of lag steps costs, nepers. */
function costsOf(seconds: number): Float64Array {
  const spread = spreadOf(seconds);
  const costs = new Float64Array(reachOf(seconds) + 1);
  for (let apart = 0; apart < costs.length; apart++) costs[apart] = 0.5 * (apart / spread) * (apart / spread);
  return costs;
}
