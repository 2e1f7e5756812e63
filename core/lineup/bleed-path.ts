import type { Sound } from '../signal/sound.ts';
import type { GuidePrint } from './bleed.ts';
import { heightOnLine, isEven, type Missing, missingOf, NEAR_SEC, partsOf, type Rows } from './bleed-parts.ts';
import { BLEED_REACH_SEC, correlateRows, LAG_HZ, SEGMENT } from './bleed-rows.ts';
import { cubicAt } from './cubic-row.ts';
import { varianceOf } from './drift-stack.ts';
import type { HeldRows } from './held-sums.ts';
import { likeliestLags, type Sum, sumsOf } from './likeliest-lags.ts';
import { LEAST_ERROR_SEC, type Line } from './line.ts';
import { soundBreaks } from './sound-break.ts';

/** Where the guide's leakage lies in a take at one moment. */
export interface BleedPoint {
  /** Session time, s. */
  readonly atSec: number;
  /** The take's own time of it, s. */
  readonly takeSec: number;
  /** One standard deviation, s. */
  readonly errorSec: number;
}

/** The leakage along a take. */
export interface BleedPath {
  /** In order of time. */
  readonly points: readonly BleedPoint[];
  /** Indexes of points before which the path jumps. */
  readonly jumps: readonly number[];
  /** The points once more, each where it is highest near a take time that is known better than the path. */
  near(takeSecOf: (sessionSec: number) => number): BleedPoint[];
}

/** The path goes from step to step that stand out of chance by so many standard deviations; points by so many. */
const STEP_HEIGHT = 2;
const POINT_HEIGHT = 4;
/** What is asked of a path that jumps. */
interface Demands {
  /** Logarithm of how unlikely a jump is at any one point and to any one lag, and what is asked beyond that. */
  readonly jumpCost: number;
  /** What each piece between jumps must show by itself, standard deviations, and over any other place, nepers. */
  readonly piece: number;
  readonly lead: number;
}

/** Measured on cut takes: right pieces lead by 11 and more, the one that fell on a note like the guide's by 10. */
const STRICT: Demands = { jumpCost: 16, piece: 5, lead: 11 };
/** Where the wave of the sound breaks at the jump: that alone is rarer than one in a take. */
const AT_BREAKS: Demands = { jumpCost: 9, piece: 3.2, lead: 3 };
/** Pieces between two jumps have so many rows at least. Measured on 104 takes cut once: three had a piece of one row, none of them true. */
const LEAST_ROWS = 4;
/** Breaks are looked for within this of a jump at most, s. */
const BREAK_REACH_SEC = 5;
/** Lobes of one peak lie within this, s. */
const LOBES_SEC = 0.002;

/** What more stretches of the guide say of leakage that was found on a line. */
export interface FollowedPath {
  /** Stretches that were looked at. */
  readonly stretches: number;
  /** Height along the line itself, standard deviations of chance: more than that of fewer stretches, where it is leakage. */
  readonly height: number;
  /** Undefined where it does not carry through the take. */
  readonly path: BleedPath | undefined;
  /** Session times between which it is not heard as high as elsewhere although no jump was found, s. */
  readonly missing: Missing | undefined;
  /** The rows held against a clock: the take's own time of a session time, s. */
  heldAgainst(takeSecOf: (sessionSec: number) => number): HeldRows;
  /** The path along a clock that jumps at known session times, s; undefined where nothing is heard along it. */
  pathOn(takeSecOf: (sessionSec: number) => number, jumpsSec: readonly number[]): BleedPath | undefined;
}

/**
 * Follows the guide's leakage along a take, also where it jumps.
 *
 * Rows of correlation along the line on which it was heard somewhere are summed to steps that each stand a little out of
 * chance, and the likeliest path of lags through them is found by dynamic programming (Viterbi 1967, IEEE Trans. IT 13(2)): it may
 * stray a little from point to point, as a clock does, or jump anywhere at a price. For a row of variance v in which
 * the leakage has the gain g, the likelihood of lag l over chance is g x(l) - g^2 v / 2, in nepers. line: where and how fast it was heard.
 */
export function followBleed(print: GuidePrint, take: Sound, line: Line): FollowedPath {
  const speed = 1 + line.driftPpm * 1e-6;
  const lengthSec = take.lengthFrames / take.rateHz;
  const used = print.dense.filter(({ atSec }) => {
    const at = line.leadSec + atSec * speed;
    return at > BLEED_REACH_SEC && at + SEGMENT.segmentSec + BLEED_REACH_SEC < lengthSec;
  });
  if (used.length < 8) {
    const heldAgainst = (): HeldRows => ({ rows: [], times: [], variances: [], lags: [] });
    const pathOn = (): undefined => undefined;
    return { stretches: used.length, height: 0, path: undefined, missing: undefined, heldAgainst, pathOn };
  }
  const rows = correlateRows(used, take, (sec) => line.leadSec + sec * speed, speed, SEGMENT);
  const times = used.map(({ atSec }) => atSec + 0.5 * SEGMENT.segmentSec);
  const variances = rows.map(varianceOf);
  const all = { rows, times, variances };
  const strict = pathAlong(all, line, STRICT);
  const lagsOn = (takeSecOf: (sessionSec: number) => number): number[] =>
    times.map((sec) => (takeSecOf(sec) - line.leadSec - sec * speed + BLEED_REACH_SEC) * LAG_HZ);
  const found = {
    stretches: rows.length,
    height: heightOnLine(all),
    heldAgainst: (takeSecOf: (sessionSec: number) => number): HeldRows => ({ ...all, lags: lagsOn(takeSecOf) }),
    pathOn: (takeSecOf: (sessionSec: number) => number, jumpsSec: readonly number[]): BleedPath | undefined => {
      const jumps = jumpsSec.map((atSec) => times.findIndex((sec) => sec > atSec)).filter((row) => row > 0);
      const borders = [...new Set([0, ...jumps, rows.length])];
      const lags = nudged(all, lagsOn(takeSecOf), borders);
      const gain = gainAlong(rows, variances, lags);
      return gain > 0 ? pathThrough(all, line, lags, borders.slice(1, -1), gain) : undefined;
    },
  };
  const parts = partsOf(all);
  // Leakage that is even along the line leaves nothing to look for.
  if (isEven(parts) || (strict !== undefined && strict.jumps.length > 0)) {
    return { ...found, path: strict, missing: undefined };
  }
  const free = pathAtBreaks(all, line, take);
  return { ...found, path: free ?? strict, missing: free === undefined ? missingOf(parts) : undefined };
}

/** A path that jumps where the sound breaks. */
function pathAtBreaks(all: Rows, line: Line, take: Sound): BleedPath | undefined {
  const free = pathAlong(all, line, AT_BREAKS);
  if (free === undefined || free.jumps.length === 0) return undefined;
  const isBroken = free.jumps.every((at) => {
    const [before, after] = [free.points[at - 1]!, free.points[at]!];
    const middle = 0.5 * (before.takeSec + after.takeSec);
    const from = Math.max(before.takeSec, middle - BREAK_REACH_SEC) - 1;
    return soundBreaks(take, from, Math.min(after.takeSec, middle + BREAK_REACH_SEC) + 1).length > 0;
  });
  return isBroken ? free : undefined;
}

function pathAlong(all: Rows, line: Line, demands: Demands): BleedPath | undefined {
  const { rows, variances } = all;
  const middle = BLEED_REACH_SEC * LAG_HZ;
  let lags: readonly number[] = rows.map(() => middle);
  let gain = Math.max(gainAlong(rows, variances, lags), bestPartGain(rows, variances, middle));
  let jumps: readonly number[] = [];
  // The first path shows where else it lies, the second rests on that.
  for (let pass = 0; pass < 2; pass++) {
    if (gain <= 0) return undefined;
    const steps = sumsOf(all, [0, rows.length], STEP_HEIGHT / gain);
    if (steps.length < 4) return undefined;
    const path = likeliestLags(steps, gain, demands.jumpCost);
    const found = rows.map((_, i) => path.lags[steps.findIndex((step) => i < step.to)]!);
    ({ lags, jumps } = withoutStubs(all, { lags: found, jumps: path.jumps.map((n) => steps[n]!.from) }));
    gain = gainAlong(rows, variances, lags);
  }
  const borders = [0, ...jumps, rows.length];
  if (jumps.length > 0 && !borders.slice(1).every((to, n) => isSure(all, lags, borders[n]!, to, demands)))
    return undefined;
  return pathThrough(all, line, lags, jumps, gain);
}

/** A lag in each row, and the rows before which it jumps. */
interface Jumping {
  readonly lags: readonly number[];
  readonly jumps: readonly number[];
}

/**
 * Without pieces of so few rows that one note of the player's own, like the guide's there, makes them: the path jumps to where that note
 * lies and away again. What lies about such a piece goes on until it jumps, at most once.
 */
function withoutStubs(all: Rows, path: Jumping): Jumping {
  const { lags, jumps } = path;
  const stub = jumps.findIndex((from, n) => n + 1 < jumps.length && jumps[n + 1]! - from < LEAST_ROWS);
  if (stub < 0) return path;
  const [from, to] = [jumps[stub]!, jumps[stub + 1]!];
  const [before, after] = [lags[from - 1]!, lags[to]!];
  const at = likeliestCut(all.rows, from, to, before, after);
  const bridged = lags.map((lag, i) => (i < from || i >= to ? lag : i < at ? before : after));
  const isJump = Math.abs(after - before) > LOBES_SEC * LAG_HZ;
  const rest = [...jumps.slice(0, stub), ...(isJump ? [at] : []), ...jumps.slice(stub + 2)];
  return withoutStubs(all, { lags: bridged, jumps: rest });
}

/** The row from..to before which it most likely goes from one lag to another. */
function likeliestCut(rows: Rows['rows'], from: number, to: number, before: number, after: number): number {
  let best = from;
  let score = 0;
  let most = 0;
  for (let i = from; i < to; i++) {
    score += cubicAt(rows[i]!, before) - cubicAt(rows[i]!, after);
    if (score <= most) continue;
    most = score;
    best = i + 1;
  }
  return best;
}

/** Lags with those of each piece between borders moved to where it is highest nearby. */
function nudged({ rows }: Rows, lags: readonly number[], borders: readonly number[]): number[] {
  const reach = Math.floor(NEAR_SEC * LAG_HZ);
  return borders.slice(1).flatMap((to, n) => {
    const from = borders[n]!;
    const sumAt = (nudge: number): number => {
      let sum = 0;
      for (let i = from; i < to; i++) sum += cubicAt(rows[i]!, lags[i]! + nudge);
      return sum;
    };
    let best = 0;
    let most = sumAt(0);
    for (let nudge = -reach; nudge <= reach; nudge++) {
      const sum = sumAt(nudge);
      if (sum <= most) continue;
      most = sum;
      best = nudge;
    }
    return lags.slice(from, to).map((lag) => lag + best);
  });
}

/** The path through a lag in each row; jumps: rows before which it jumps. */
function pathThrough(
  all: Rows,
  line: Line,
  lags: readonly number[],
  jumps: readonly number[],
  gain: number,
): BleedPath {
  const speed = 1 + line.driftPpm * 1e-6;
  const sums = sumsOf(all, [0, ...jumps, all.rows.length], POINT_HEIGHT / gain);
  const base = (sum: Sum): number => line.leadSec + sum.atSec * speed - BLEED_REACH_SEC;
  return {
    // The path is read in the middle of a point.
    points: sums.map((sum) => asPoint(sum, lags[(sum.from + sum.to) >> 1]!, base(sum))),
    jumps: jumps.map((row) => sums.findIndex((sum) => sum.from === row)),
    near: (takeSecOf) => sums.map((sum) => asPoint(sum, (takeSecOf(sum.atSec) - base(sum)) * LAG_HZ, base(sum))),
  };
}

function gainAlong(
  rows: readonly Float64Array[],
  variances: readonly number[],
  lags: readonly number[],
  from = 0,
  to = rows.length,
): number {
  let value = 0;
  let total = 0;
  for (let i = from; i < to; i++) {
    value += cubicAt(rows[i]!, lags[i]!);
    total += variances[i]!;
  }
  return total > 0 ? value / total : 0;
}

/** The gain where the line holds may be that of a half. */
function bestPartGain(rows: readonly Float64Array[], variances: readonly number[], middle: number): number {
  const lags = rows.map(() => middle);
  const half = rows.length >> 1;
  return Math.max(gainAlong(rows, variances, lags, 0, half), gainAlong(rows, variances, lags, half));
}

/** Whether a piece of the path stands out of chance by itself, and over any other place. */
function isSure(
  { rows, variances }: Rows,
  lags: readonly number[],
  from: number,
  to: number,
  { piece, lead }: Demands,
): boolean {
  const width = rows[0]!.length;
  const middle = lags[(from + to) >> 1]!;
  const sum = new Float64Array(width);
  let variance = 0;
  for (let i = from; i < to; i++) {
    const shift = Math.round(lags[i]! - middle);
    const row = rows[i]!;
    for (let lag = Math.max(0, -shift); lag < Math.min(width, width - shift); lag++) sum[lag]! += row[lag + shift]!;
    variance += variances[i]!;
  }
  let value = 0;
  let rival = 0;
  for (let lag = 0; lag < width; lag++) {
    const apart = Math.abs(lag - middle);
    if (apart <= NEAR_SEC * LAG_HZ) value = Math.max(value, sum[lag]!);
    else if (apart > LOBES_SEC * LAG_HZ) rival = Math.max(rival, sum[lag]!);
  }
  return value >= piece * Math.sqrt(variance) && value * value - rival * rival >= 2 * lead * variance;
}

/** The peak of a point near a lag; takeSec0: the take's time of lag 0. */
function asPoint(sum: Sum, nearLag: number, takeSec0: number): BleedPoint {
  let lag = nearLag;
  let value = Number.NEGATIVE_INFINITY;
  const reach = NEAR_SEC * LAG_HZ;
  for (let at = nearLag - reach; at <= nearLag + reach; at += 0.125) {
    const here = cubicAt(sum.row, at);
    if (here > value) {
      value = here;
      lag = at;
    }
  }
  const height = value / Math.sqrt(sum.variance || 1);
  // Twice the width of a peak around 1.7 kHz over its height, as for the whole.
  const errorSec = Math.max(LEAST_ERROR_SEC, 2 / (2 * Math.PI * 1700 * Math.max(height, 0.5)));
  return { atSec: sum.atSec, takeSec: takeSec0 + lag / LAG_HZ, errorSec };
}
