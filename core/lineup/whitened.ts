import { solveSymmetric } from './solve.ts';

/** How late a player's notes were at one time. */
export interface LateAt {
  /** Session time, s. */
  readonly atSec: number;
  /** How much later than on a line without drift the take's notes sound, s. */
  readonly laterSec: number;
  /** How much it says beside the others; any unit. */
  readonly weight: number;
}

/** What was found of a player: scatter of a stretch, slow wander, s. */
export interface PlayerNoise {
  readonly scatterSec: number;
  readonly wanderSec: number;
}

/** A player's wander about the beat keeps for some of this, s. */
const WANDER_KEPT_SEC = 30;
/**
 * Clocks run apart by some 30 ppm, some pairs by 270: a step is no stand-in for such a pair. Spreads of the drift, and the share of
 * pairs that is said to have each.
 */
const DRIFTS = [
  { spread: 40e-6, share: 0.9 },
  { spread: 150e-6, share: 0.1 },
] as const;
const DRIFT_COLUMN = 1;

/** What of the stretches is the same whatever the player's noise, an entry a stretch. */
export interface Series {
  /** How much of the wander is kept from the one before. */
  readonly keep: Float64Array;
  /** Variance of its scatter over that of the usual one. */
  readonly scatter: Float64Array;
  readonly later: Float64Array;
  /** Level, drift, known steps. */
  readonly columns: readonly Float64Array[];
}

export function seriesOf(stretches: readonly LateAt[], known: readonly Float64Array[]): Series {
  const weights = stretches.map((one) => one.weight).sort((a, b) => a - b);
  const usual = weights[weights.length >> 1]!;
  const times = stretches.map((one) => one.atSec);
  const middle = times[times.length >> 1]!;
  return {
    keep: Float64Array.from(times, (atSec, i) => Math.exp(-(i === 0 ? 0 : atSec - times[i - 1]!) / WANDER_KEPT_SEC)),
    // A stretch of few soft notes says less; none says much more than the usual one.
    scatter: Float64Array.from(stretches, (one) => Math.max(0.7, Math.min(6, usual / one.weight))),
    later: Float64Array.from(stretches, (one) => one.laterSec),
    columns: [
      new Float64Array(times.length).fill(1),
      Float64Array.from(times, (atSec) => (atSec - middle) * DRIFTS[0].spread),
      ...known,
    ],
  };
}

/** What level, drift and known steps are, by one spread of the drift. */
export interface Solved {
  readonly likelihood: number;
  /** The same with level, drift and known steps integrated out, but for a constant of their number. */
  readonly evidence: number;
  readonly values: Float64Array;
  readonly inverse: readonly Float64Array[];
}

/** A step, and what it makes of the likelihood. */
export interface WithStep {
  readonly stepSec: number;
  readonly stepErrorSec: number;
  readonly likelihood: number;
}

/** A step's column after the filter; of use within one asking only. */
let stepColumn = new Float64Array(0);

/** Stretches after the filter: independent, of unit variance. */
export class Whitened {
  /** For each of DRIFTS. */
  readonly solved: readonly Solved[];
  readonly #keep: Float64Array;
  readonly #gain: Float64Array;
  readonly #scale: Float64Array;
  readonly #y: Float64Array;
  readonly #columns: readonly Float64Array[];

  constructor(series: Series, noise: PlayerNoise) {
    const count = series.later.length;
    this.#keep = series.keep;
    this.#gain = new Float64Array(count);
    this.#scale = new Float64Array(count);
    const logs = setFilter(series.keep, series.scatter, noise, this.#gain, this.#scale);
    this.#y = new Float64Array(count);
    this.#filter(series.later, 0, this.#y);
    this.#columns = series.columns.map((column) => {
      const row = new Float64Array(count);
      this.#filter(column, 0, row);
      return row;
    });
    const right = this.#against(this.#y, 0);
    const squares = dot(this.#y, this.#y);
    this.solved = DRIFTS.map(({ spread, share }) => {
      const matrix = this.#columns.map((a) => this.#against(a, 0));
      // The drift is drawn towards none.
      const weight = (DRIFTS[0].spread / spread) ** 2;
      matrix[DRIFT_COLUMN]![DRIFT_COLUMN]! += weight;
      const { values, inverse } = solveSymmetric(matrix, right);
      const likelihood = logs - 0.5 * (squares - dot(values, right)) + Math.log(share) + 0.5 * Math.log(weight);
      return { likelihood, evidence: likelihood - 0.5 * logDeterminant(matrix), values, inverse };
    });
  }

  /** With one column more, by the partition of the normal equations; shares: how much of each stretch lies after the step. */
  withStep(shares: Float64Array): WithStep[] {
    let at = 0;
    while (at < shares.length && !(shares[at]! > 0)) at++;
    if (at === shares.length) at = 0;
    if (stepColumn.length < shares.length) stepColumn = new Float64Array(2 * shares.length);
    const column = stepColumn.subarray(0, shares.length);
    this.#filter(shares, at, column);
    const shared = this.#against(column, at);
    const rest = dot(column, this.#y, at);
    const left = dot(column, column, at);
    return this.solved.map((one) => stepBeside(one, shared, rest, left));
  }

  /** Its products with each column. from: where it begins to differ from 0. */
  #against(row: Float64Array, from: number): Float64Array {
    const products = new Float64Array(this.#columns.length);
    for (let i = 0; i < products.length; i++) products[i] = dot(row, this.#columns[i]!, from);
    return products;
  }

  /** from: where values begin to differ from 0; before it `out` stays as it is. */
  #filter(values: Float64Array, from: number, out: Float64Array): void {
    const [keep, gain, scale] = [this.#keep, this.#gain, this.#scale];
    let state = 0;
    for (let i = from; i < out.length; i++) {
      state *= keep[i]!;
      const off = values[i]! - state;
      out[i] = off * scale[i]!;
      state += gain[i]! * off;
    }
  }
}

/** shared: products of the step's column with the others; rest: with what is explained; left: with itself. */
function stepBeside(
  { values, inverse, likelihood }: Solved,
  shared: Float64Array,
  rest: number,
  left: number,
): WithStep {
  for (let i = 0; i < shared.length; i++) {
    rest -= shared[i]! * values[i]!;
    const row = inverse[i]!;
    for (let k = 0; k < shared.length; k++) left -= shared[i]! * shared[k]! * row[k]!;
  }
  if (left <= 0) return { stepSec: 0, stepErrorSec: Number.POSITIVE_INFINITY, likelihood };
  return {
    stepSec: rest / left,
    stepErrorSec: 1 / Math.sqrt(left),
    likelihood: likelihood + (0.5 * rest * rest) / left,
  };
}

/** Kalman's filter for a noise; gives the logarithms of its scales, summed. */
function setFilter(
  keep: Float64Array,
  scatter: Float64Array,
  { scatterSec, wanderSec }: PlayerNoise,
  gain: Float64Array,
  scale: Float64Array,
): number {
  let variance = wanderSec ** 2;
  let logs = 0;
  for (let i = 0; i < keep.length; i++) {
    const kept = keep[i]! * keep[i]!;
    const before = i === 0 ? variance : kept * variance + (1 - kept) * wanderSec ** 2;
    const total = before + scatterSec ** 2 * scatter[i]!;
    gain[i] = before / total;
    scale[i] = 1 / Math.sqrt(total);
    logs -= 0.5 * Math.log(total);
    variance = before * (1 - before / total);
  }
  return logs;
}

function dot(a: Float64Array, b: Float64Array, from = 0): number {
  let sum = 0;
  for (let i = from; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}

/** Logarithm of the determinant of a symmetric positive matrix, by Cholesky's factors. */
function logDeterminant(matrix: readonly Float64Array[]): number {
  const factor = matrix.map((row) => row.slice());
  let sum = 0;
  for (let i = 0; i < factor.length; i++) {
    for (let k = 0; k <= i; k++) {
      let value = factor[i]![k]!;
      for (let m = 0; m < k; m++) value -= factor[i]![m]! * factor[k]![m]!;
      factor[i]![k] = i === k ? Math.sqrt(Math.max(value, 1e-300)) : value / factor[k]![k]!;
    }
    sum += 2 * Math.log(factor[i]![i]!);
  }
  return sum;
}
