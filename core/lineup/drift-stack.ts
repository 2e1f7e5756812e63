import { cubicAt } from './cubic-row.ts';
import { type ShiftedRows, shiftedRows, shiftsOf } from './shifted-rows.ts';

/** The highest point of many correlations summed along a line of lag over time. */
export interface StackPeak {
  /** Lag in the middle, lag steps from the rows' first, fractional. */
  readonly lag: number;
  readonly driftPpm: number;
  /** Time of the middle: where lag and drift are independent, s. */
  readonly atSec: number;
  /** Standard deviation of the rows' times about the middle, s. */
  readonly spreadSec: number;
  /** Height in standard deviations of what chance gives. */
  readonly height: number;
  /** The height that counts: lower the farther the peak lies from where it was expected. */
  readonly weighedHeight: number;
  /** Height of the next peak along the same drift, more than RIVAL_SEC away. */
  readonly rivalHeight: number;
  /** Heights of four parts of the rows, in order of time and each of a quarter of the variance, in their own deviations. */
  readonly partHeights: readonly number[];
}

/** Where the peak is expected. */
export interface StackPrior {
  /** Expected lag, lag steps from the rows' first, and its standard deviation. */
  readonly lag: number;
  readonly lagSpread: number;
  /** Usual standard deviation of the drift about zero, ppm. */
  readonly driftSpreadPpm: number;
  /** Drifts up to this are searched, ppm; how unlikely they are counts no more than RARE_PENALTY. */
  readonly mostDriftPpm: number;
}

/** Shift between the ends that a step of drift makes, s. */
const STEP_SEC = 0.00024;
/** Logarithm of how much rarer than none an unusual drift is: one pair of clocks in some 150. */
const RARE_PENALTY = 5;
/** Lobes of one peak lie within this, s. */
const RIVAL_SEC = 0.002;
/** Rows of a group lie within this time, s. */
const GROUP_SEC = 30;

/**
 * Sums correlations along every drift that may be and gives the highest point.
 *
 * rows: correlations, lag steps of 1 / lagHz, all of one length; times: their session times, s, rising. In two stages:
 * rows within 30 s are first summed along few drifts, and these sums along many, which is the same to a tenth of
 * a millisecond at a fraction of the work. Points far from where the peak is expected must be higher to win: what counts
 * is half the height squared, less the logarithm of the prior. Memory: a row a group, at most as many as there are rows.
 */
export function stackAlongDrifts(
  rows: readonly Float64Array[],
  times: readonly number[],
  lagHz: number,
  prior: StackPrior,
): StackPeak {
  const width = rows[0]!.length;
  const variances = rows.map(varianceOf);
  const total = variances.reduce((sum, variance) => sum + variance, 0) || 1;
  const atSec = variances.reduce((sum, variance, i) => sum + variance * times[i]!, 0) / total;
  const spread = variances.reduce((sum, variance, i) => sum + variance * (times[i]! - atSec) ** 2, 0) / total;
  const at = Float64Array.from(times);
  const { starts, middles, longestSec } = groupsOf(at);
  const coarsePpm = Math.min(40, (STEP_SEC / Math.max(1, longestSec)) * 1e6);
  const lengthSec = Math.max(1, times.at(-1)! - times[0]!);
  const finePpm = Math.min(40, (STEP_SEC / lengthSec) * 1e6);
  const penalty = new Float64Array(width);
  for (let lag = 0; lag < width; lag++) penalty[lag] = 0.5 * ((lag - prior.lag) / prior.lagSpread) ** 2;
  const steps = Math.ceil(prior.mostDriftPpm / finePpm);
  const rareness = new Float64Array(2 * steps + 1);
  for (let step = -steps; step <= steps; step++) rareness[step + steps] = driftPenalty(step * finePpm, prior);
  const stack = shiftedRows(rows);
  const along = { times: at, atSec, starts, middles, lagHz, steps, finePpm, coarsePpm };
  const top = stack.highestAlong({ ...along, penalty, rareness, total });
  const apartSec = Float64Array.from(times, (sec) => sec - atSec);
  const fine = refine(stack, apartSec, top, finePpm, lagHz);
  const found = fine.value > top.value ? fine : top;
  const height = found.value / Math.sqrt(total);
  const apart = 0.5 * ((found.lag - prior.lag) / prior.lagSpread) ** 2 + driftPenalty(found.ppm, prior);
  return {
    lag: found.lag,
    driftPpm: found.ppm,
    atSec,
    spreadSec: Math.sqrt(spread),
    height,
    weighedHeight: Math.sqrt(Math.max(0, height * height - 2 * apart)),
    rivalHeight: rivalOf(stack, at, atSec, found, lagHz) / Math.sqrt(total),
    partHeights: partsOf(rows, times, variances, atSec, found, lagHz),
  };
}

/** Mean square of a row. */
export function varianceOf(row: Float64Array): number {
  let sum = 0;
  for (let lag = 0; lag < row.length; lag++) sum += row[lag]! * row[lag]!;
  return sum / row.length;
}

function driftPenalty(ppm: number, prior: StackPrior): number {
  return Math.min(RARE_PENALTY, 0.5 * (ppm / prior.driftSpreadPpm) ** 2);
}

/** Rows that are first summed by themselves: where each group begins, and the end of the last; their middles; how long the longest is. */
function groupsOf(times: Float64Array): { starts: Int32Array; middles: Float64Array; longestSec: number } {
  const starts = [0];
  const middles: number[] = [];
  let longestSec = 0;
  for (let i = 1; i <= times.length; i++) {
    const from = starts.at(-1)!;
    if (i < times.length && times[i]! - times[from]! < GROUP_SEC) continue;
    middles.push(0.5 * (times[from]! + times[i - 1]!));
    longestSec = Math.max(longestSec, times[i - 1]! - times[from]!);
    starts.push(i);
  }
  return { starts: Int32Array.from(starts), middles: Float64Array.from(middles), longestSec };
}

function rivalOf(
  stack: ShiftedRows,
  times: Float64Array,
  atSec: number,
  found: Omit<Point, 'value'>,
  lagHz: number,
): number {
  const line = stack.lineOfRows(shiftsOf(times, atSec, found.ppm, lagHz));
  let most = 0;
  for (let lag = 0; lag < line.length; lag++) {
    if (Math.abs(lag - found.lag) > RIVAL_SEC * lagHz) most = Math.max(most, line[lag]!);
  }
  return most;
}

/** What four parts of the rows say of a point by themselves. */
function partsOf(
  rows: readonly Float64Array[],
  times: readonly number[],
  variances: readonly number[],
  atSec: number,
  found: Point,
  lagHz: number,
): number[] {
  const total = variances.reduce((sum, variance) => sum + variance, 0);
  const values = [0, 0, 0, 0];
  const powers = [0, 0, 0, 0];
  let passed = 0;
  for (let i = 0; i < rows.length; i++) {
    const part = Math.min(3, Math.floor((4 * (passed + 0.5 * variances[i]!)) / (total || 1)));
    passed += variances[i]!;
    values[part]! += cubicAt(rows[i]!, found.lag + (times[i]! - atSec) * found.ppm * 1e-6 * lagHz);
    powers[part]! += variances[i]!;
  }
  return values.map((value, part) => (powers[part]! > 0 ? value / Math.sqrt(powers[part]!) : 0));
}

interface Point {
  readonly lag: number;
  readonly ppm: number;
  readonly value: number;
}

/** The highest sum close to a rough one, between lag steps: rows are read by a cubic through four points. */
function refine(stack: ShiftedRows, apartSec: Float64Array, rough: Point, stepPpm: number, lagHz: number): Point {
  let best: Point = { ...rough, value: Number.NEGATIVE_INFINITY };
  for (let p = -18; p <= 18; p++) {
    const ppm = rough.ppm + (p / 12) * stepPpm;
    for (let l = -12; l <= 12; l++) {
      const lag = rough.lag + l / 8;
      const value = stack.sumOnLine(apartSec, lag, ppm, lagHz);
      if (value > best.value) best = { lag, ppm, value };
    }
  }
  return best;
}
