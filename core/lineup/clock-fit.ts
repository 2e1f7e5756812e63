import { type ClockPoint, lag, partition } from './clock-pieces.ts';
import { type Line, takeSecOn } from './line.ts';
import { solveSymmetric } from './solve.ts';

/** A change of a fitted clock. */
export interface FittedBend {
  /** Session times of the points beside it, s. */
  readonly afterSec: number;
  readonly beforeSec: number;
  /** By how much the take's time steps, s: negative where sound was lost. 0 where only the speed changes. */
  readonly stepSec: number;
  readonly stepErrorSec: number;
  /** Change of speed, ppm. 0 where it only steps. */
  readonly changePpm: number;
}

/** A clock as straight pieces. */
export interface ClockFit {
  /** One more than bends. */
  readonly lines: readonly Line[];
  readonly bends: readonly FittedBend[];
  /** Whether each point was believed. */
  readonly accepted: readonly boolean[];
  /** Standard deviation of the clock at a session time, s: grows away from the points. */
  errorAt(sessionSec: number): number;
  /** Standard deviation of the first piece's speed, ppm. */
  readonly driftErrorPpm: number;
}

/** What each value more costs, in logarithms of the number of points: Schwarz's half let one step in 20 change its speed by chance. */
const VALUE_COST = 1.5;
/** Smaller steps and changes that move no moment by more than this, s, are not told. */
const LEAST_STEP_SEC = 0.0008;
const LEAST_SWAY_SEC = 0.0006;
/** Clocks differ by some 30 ppm, some pairs by 270; s a s. */
const DRIFT_SPREAD = 150e-6;
/** A point so many standard deviations off is not believed. */
const OUTLIER = 4;

/**
 * The clock through points that were heard along a take, with as few bends as they ask for.
 *
 * Straight pieces by dynamic programming over the places of bends (Jackson et al. 2005, An algorithm for optimal
 * partitioning of data on an interval, IEEE Signal Processing Letters 12(2); the penalised cost as in Killick, Fearnhead and
 * Eckley 2012, Optimal detection of changepoints with a linear computational cost, JASA 107(500)): half the sum of squared
 * normalised residuals, and for each bend three times the logarithm of the number of points and BEND_COST. Each bend is
 * then a step, a change of speed or both, whichever costs least by an information criterion (Schwarz 1978, but stricter), all
 * fitted together. Points far from the median of their neighbours are set aside first. points: in order of time, two or
 * more; jumps: indexes of points before which it is known to jump. Memory: some numbers a point; time grows with the square of their number (400 points: 10 ms).
 */
export function fitClock(points: readonly ClockPoint[], jumps: readonly number[] = []): ClockFit {
  const scale = Math.max(1, scatterOf(points));
  const first = fitAccepted(points, jumps, believed(points, jumps, scale), scale);
  // Against the first clock a lobe stands out that among its neighbours did not.
  const accepted = points.map((point, i) => {
    const n = first.bends.filter((bend) => point.atSec > 0.5 * (bend.afterSec + bend.beforeSec)).length;
    const near = first.lines.slice(Math.max(0, n - 1), n + 2);
    const off = Math.min(...near.map((line) => Math.abs(point.takeSec - takeSecOn(line, point.atSec))));
    return first.accepted[i]! && off < OUTLIER * scale * point.errorSec;
  });
  return accepted.filter((one) => one).length < 0.6 * points.length
    ? first
    : fitAccepted(points, jumps, accepted, scale);
}

function fitAccepted(
  points: readonly ClockPoint[],
  jumps: readonly number[],
  accepted: readonly boolean[],
  scale: number,
): ClockFit {
  const used = points.filter((_, i) => accepted[i]);
  const data = used.length >= 2 ? used : points;
  const borders = jumps
    .map((at) => accepted.slice(0, at).filter((one) => one).length)
    .filter((at) => at > 0 && at < data.length);
  const cuts = partition(data, [0, ...borders, data.length], scale);
  let model = simplify(data, cuts, scale);
  for (;;) {
    const { bends } = model;
    const untold = bends.findIndex((_, b) => !isTold(model, data, b));
    if (untold < 0) return asFit(model, data, accepted);
    const left = without(bends, untold).map((bend) => bend.at);
    model = simplify(data, left, scale);
  }
}

/** How much more the points scatter than they claim: from second differences, which know no line. */
function scatterOf(points: readonly ClockPoint[]): number {
  const parts: number[] = [];
  for (let i = 1; i + 1 < points.length; i++) {
    const [a, b, c] = [points[i - 1]!, points[i]!, points[i + 1]!];
    const share = (b.atSec - a.atSec) / (c.atSec - a.atSec || 1);
    const off = lag(b) - lag(a) * (1 - share) - lag(c) * share;
    parts.push(Math.abs(off) / Math.hypot(b.errorSec, a.errorSec * (1 - share), c.errorSec * share));
  }
  if (parts.length < 5) return 1;
  return 1.4826 * parts.sort((a, b) => a - b)[parts.length >> 1]!;
}

function believed(points: readonly ClockPoint[], jumps: readonly number[], scale: number): boolean[] {
  const borders = [0, ...jumps, points.length];
  return borders.slice(1).flatMap((to, n) => believedWithin(points.slice(borders[n], to), scale));
}

function believedWithin(points: readonly ClockPoint[], scale: number): boolean[] {
  if (points.length < 5) return points.map(() => true);
  return points.map((point, i) => {
    // On one side at least it agrees, so that a step is no outlier.
    const sides = [points.slice(Math.max(0, i - 4), i), points.slice(i + 1, i + 5)].filter((side) => side.length >= 2);
    return sides.some((side) => {
      const lags = side.map(lag).sort((a, b) => a - b);
      const median = lags[lags.length >> 1]!;
      const drift = Math.max(...side.map((one) => Math.abs(one.atSec - point.atSec))) * 100e-6;
      return Math.abs(lag(point) - median) < OUTLIER * scale * Math.hypot(point.errorSec, side[0]!.errorSec) + drift;
    });
  });
}

type Kind = 'step' | 'speed' | 'both';

interface ModelBend {
  /** Index of the first point after it. */
  readonly at: number;
  readonly kind: Kind;
}

interface Model {
  readonly bends: readonly ModelBend[];
  readonly originSec: number;
  /** Level and drift at the origin, then what each bend adds: step, change. */
  readonly values: Float64Array;
  readonly covariance: readonly Float64Array[];
  readonly cost: number;
}

const COLUMNS: Record<Kind, number> = { step: 1, speed: 1, both: 2 };

/** Each bend as simple as it may be, and a change of speed where it fits best. */
function simplify(points: readonly ClockPoint[], cuts: readonly number[], scale: number): Model {
  let model = fitModel(
    points,
    cuts.map((at) => ({ at, kind: 'both' })),
    scale,
  );
  for (let pass = 0; pass < 2; pass++) {
    for (let b = 0; b < cuts.length; b++) {
      for (const bend of choices(model.bends, b, points.length)) {
        const bends = model.bends.map((one, i) => (i === b ? bend : one));
        const other = fitModel(points, bends, scale);
        if (other.cost < model.cost) model = other;
      }
    }
  }
  return model;
}

function choices(bends: readonly ModelBend[], b: number, count: number): ModelBend[] {
  const { at } = bends[b]!;
  const from = (bends[b - 1]?.at ?? 0) + 2;
  const to = (bends[b + 1]?.at ?? count) - 2;
  const out: ModelBend[] = [{ at, kind: 'step' }];
  const step = Math.max(1, Math.floor((to - from) / 60));
  for (let place = from; place <= to; place += step) out.push({ at: place, kind: 'speed' });
  return out;
}

function without(bends: readonly ModelBend[], b: number): ModelBend[] {
  return bends.filter((_, i) => i !== b);
}

function bendSec(points: readonly ClockPoint[], at: number): number {
  return 0.5 * (points[at - 1]!.atSec + points[at]!.atSec);
}

function fitModel(points: readonly ClockPoint[], bends: readonly ModelBend[], scale: number): Model {
  const count = points.length;
  const size = 2 + bends.reduce((sum, bend) => sum + COLUMNS[bend.kind], 0);
  const originSec = points[0]!.atSec;
  const lag0 = lag(points[0]!);
  const matrix = Array.from({ length: size }, () => new Float64Array(size));
  const right = new Float64Array(size);
  const row = new Float64Array(size);
  let squares = 0;
  for (let i = 0; i < count; i++) {
    const point = points[i]!;
    fillRow(row, points, bends, i, point.atSec, originSec);
    const w = 1 / (point.errorSec * scale) ** 2;
    const y = lag(point) - lag0;
    squares += w * y * y;
    for (let a = 0; a < size; a++) right[a]! += w * row[a]! * y;
    for (let a = 0; a < size; a++) addScaled(matrix[a]!, row, w * row[a]!);
  }
  // Clocks run apart by little: one or two points on a side of a jump are no drift of a thousand ppm.
  for (const column of driftColumns(bends)) matrix[column]![column]! += 1 / DRIFT_SPREAD ** 2;
  const { values, inverse } = solveSymmetric(matrix, right);
  let explained = 0;
  for (let a = 0; a < size; a++) explained += values[a]! * right[a]!;
  values[0]! += lag0;
  const cost = 0.5 * Math.max(0, squares - explained) + VALUE_COST * Math.log(count) * (size + bends.length);
  return { bends, originSec, values, covariance: inverse, cost };
}

function addScaled(sums: Float64Array, row: Float64Array, by: number): void {
  for (let b = 0; b < row.length; b++) sums[b]! += by * row[b]!;
}

/** Columns that tell a speed. */
function driftColumns(bends: readonly ModelBend[]): number[] {
  const columns = [1];
  let column = 2;
  for (const { kind } of bends) {
    column += COLUMNS[kind];
    if (kind !== 'step') columns.push(column - 1);
  }
  return columns;
}

/** What each value adds to the lag at a time; `index`: of the last point at or before it. */
function fillRow(
  row: Float64Array,
  points: readonly ClockPoint[],
  bends: readonly ModelBend[],
  index: number,
  atSec: number,
  originSec: number,
): void {
  row[0] = 1;
  row[1] = atSec - originSec;
  let column = 2;
  for (const bend of bends) {
    const since = atSec - bendSec(points, bend.at);
    const after = bend.kind === 'speed' ? since > 0 : index >= bend.at;
    if (bend.kind !== 'speed') row[column++] = after ? 1 : 0;
    if (bend.kind !== 'step') row[column++] = after ? since : 0;
  }
}

/** What bend b adds. */
function addedBy({ bends, values, covariance }: Model, b: number): { step: number; error: number; change: number } {
  let column = 2;
  for (let i = 0; i < b; i++) column += COLUMNS[bends[i]!.kind];
  const { kind } = bends[b]!;
  const step = kind === 'speed' ? 0 : values[column]!;
  const error = kind === 'speed' ? 0 : Math.sqrt(covariance[column]![column]!);
  const change = kind === 'step' ? 0 : values[kind === 'both' ? column + 1 : column]!;
  return { step, error, change };
}

function isTold(model: Model, points: readonly ClockPoint[], b: number): boolean {
  const { step, change } = addedBy(model, b);
  const at = bendSec(points, model.bends[b]!.at);
  const before = at - (b > 0 ? bendSec(points, model.bends[b - 1]!.at) : points[0]!.atSec);
  const next = model.bends[b + 1];
  const after = (next ? bendSec(points, next.at) : points.at(-1)!.atSec) - at;
  // Farthest that a straight line through both sides would lie off.
  const sway = Math.abs(change) * ((before * after) / (2 * (before + after)));
  return Math.abs(step) >= LEAST_STEP_SEC || sway >= LEAST_SWAY_SEC;
}

function asFit(model: Model, points: readonly ClockPoint[], accepted: readonly boolean[]): ClockFit {
  const { bends, originSec, values, covariance } = model;
  let drift = values[1]!;
  let lead = values[0]! - drift * originSec;
  const lines: Line[] = [{ leadSec: lead, driftPpm: drift * 1e6 }];
  const told = bends.map((bend, b): FittedBend => {
    const { step, error, change } = addedBy(model, b);
    const at = bendSec(points, bend.at);
    lead += step - change * at;
    drift += change;
    lines.push({ leadSec: lead, driftPpm: drift * 1e6 });
    return {
      afterSec: points[bend.at - 1]!.atSec,
      beforeSec: points[bend.at]!.atSec,
      stepSec: step,
      stepErrorSec: error,
      changePpm: change * 1e6,
    };
  });
  const row = new Float64Array(values.length);
  const errorAt = (sessionSec: number): number => {
    const next = points.findIndex((point) => point.atSec > sessionSec);
    const index = (next < 0 ? points.length : next) - 1;
    fillRow(row, points, bends, index, sessionSec, originSec);
    let variance = 0;
    for (let a = 0; a < row.length; a++) {
      for (let b = 0; b < row.length; b++) variance += row[a]! * row[b]! * covariance[a]![b]!;
    }
    return Math.sqrt(Math.max(0, variance));
  };
  return { lines, bends: told, accepted, errorAt, driftErrorPpm: Math.sqrt(covariance[1]![1]!) * 1e6 };
}
