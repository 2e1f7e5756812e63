import { STRETCH_SEC } from './onset-sums.ts';
import { solveSymmetric } from './solve.ts';

/** How late a player's notes were in one stretch of the music. */
export interface Lateness {
  /** Middle of the stretch, session time, s. */
  readonly atSec: number;
  /** How much later than on a line without drift the take's notes sound, s. */
  readonly laterSec: number;
  /** How much it says beside the others; any unit. */
  readonly weight: number;
  /** STRETCH_SEC where absent. */
  readonly lengthSec?: number;
}

/** A step in a player's lateness. */
export interface StepFound {
  /** Index of the first stretch after it. */
  readonly at: number;
  readonly stepSec: number;
  readonly stepErrorSec: number;
  /** Gain of the likelihood over no step, nepers. */
  readonly gain: number;
}

/** What was found of a player: scatter of a stretch, slow wander, s. */
export interface PlayerNoise {
  readonly scatterSec: number;
  readonly wanderSec: number;
}

/** A player's wander about the beat keeps for some of this, s. */
const WANDER_KEPT_SEC = 30;
/** Scatters and wanders that are tried, s. A player without any wander is not believed. */
const SCATTERS_SEC = [0.002, 0.003, 0.0045, 0.0065, 0.0095, 0.014, 0.02] as const;
const WANDERS_SEC = [0.002, 0.003, 0.0045, 0.0065, 0.0095, 0.014] as const;
/** Stretches on either side of a step. */
const LEAST_SIDE = 3;
/** The noise is that which fits best, so that a step is known a little worse than it says (measured: 88 % within twice). */
const NOISE_GUESSED = 1.15;
/**
 * Clocks run apart by some 30 ppm, some pairs by 270: a step is no stand-in for such a pair. Spreads of the drift, and the share of
 * pairs that is said to have each.
 */
const DRIFTS = [
  { spread: 40e-6, share: 0.9 },
  { spread: 150e-6, share: 0.1 },
] as const;
const DRIFT_COLUMN = 1;

/** The step at a place that is known, as the notes alone have it; undefined from too few stretches. */
export function stepAt(stretches: readonly Lateness[], at: number, known: readonly number[]): StepFound | undefined {
  if (at < 1 || at >= stretches.length || stretches.length < 5) return undefined;
  const series = seriesOf(stretches, columnsOf(stretches, known));
  const fits = NOISES.map((noise) => new Whitened(series, noise));
  const without = Math.max(...fits.flatMap((fit) => fit.solved.map((one) => one.likelihood)));
  const withStep = fits
    .flatMap((fit) => fit.withStep(stepColumn(stretches.length, at)))
    .sort((a, b) => b.likelihood - a.likelihood)[0]!;
  const stepErrorSec = NOISE_GUESSED * withStep.stepErrorSec;
  return { at, stepSec: withStep.stepSec, stepErrorSec, gain: withStep.likelihood - without };
}

/** What the notes say for a step of stepSec, s, over none, nepers. */
export type StepLikelihood = (stepSec: number) => number;

/**
 * What the notes say for a step of the clock at any moment, whatever the player's noise.
 *
 * Scatter of stretches by themselves and a wander that forgets in half a minute (an Ornstein-Uhlenbeck process) are whitened by a
 * Kalman filter (Kalman 1960; with regressors as in Harvey 1989, Forecasting, structural time series models and the Kalman filter,
 * section 3.4); level, drift and steps that are known are integrated out. Every noise of a table is believed as far as it
 * explains the notes (Bayes' rule), so that a restless player hides a step and does not make one. A step inside a stretch
 * moves it by its share. knownSec: session times of steps that are known. Measured on 31 takes without jumps: the mean over
 * all places of the likelihood of some jump is 1.1 times that of none, 1 being right.
 */
export class StepTest {
  readonly #fits: readonly Whitened[];
  readonly #weights: Float64Array;
  readonly #stretches: readonly Lateness[];

  constructor(stretches: readonly Lateness[], knownSec: readonly number[] = []) {
    this.#stretches = stretches;
    const known = knownSec.map((atSec) => sharesAfter(stretches, atSec));
    const series = stretches.length < LEAST_SIDE ? undefined : seriesOf(stretches, known);
    this.#fits = series === undefined ? [] : NOISES.map((noise) => new Whitened(series, noise));
    const evidences = this.#fits.flatMap((fit) => fit.solved.map((one) => one.evidence));
    const most = Math.max(...evidences);
    const sum = evidences.reduce((all, one) => all + Math.exp(one - most), 0);
    this.#weights = Float64Array.from(evidences, (one) => Math.exp(one - most) / sum);
  }

  /** At a session time, s; undefined where no notes lie on one of its sides. */
  at(atSec: number): StepLikelihood | undefined {
    const steps = this.#stepsAt(atSec);
    return steps === undefined ? undefined : (stepSec) => likelihoodOf(steps, stepSec);
  }

  /** The same as a table for steps of -half to half times everySec. */
  tableAt(atSec: number, half: number, everySec: number): Float64Array | undefined {
    const steps = this.#stepsAt(atSec);
    if (steps === undefined) return undefined;
    const table = new Float64Array(2 * half + 1);
    for (let n = 0; n < table.length; n++) table[n] = likelihoodOf(steps, (n - half) * everySec);
    return table;
  }

  #stepsAt(atSec: number): Steps | undefined {
    const shares = sharesAfter(this.#stretches, atSec);
    let after = 0;
    for (let n = 0; n < shares.length; n++) after += shares[n]!;
    // Of notes one by one some must lie on either side: one that was mistaken for another is soon a step.
    const least = STRETCH_SEC / (this.#stretches[0]?.lengthSec ?? STRETCH_SEC);
    if (this.#fits.length === 0 || after < least || shares.length - after < least) return undefined;
    const likely = new Float64Array(this.#weights.length);
    const squares = new Float64Array(this.#weights.length);
    let n = 0;
    for (const fit of this.#fits) {
      for (const { stepSec, stepErrorSec } of fit.withStep(shares)) {
        likely[n] = stepSec;
        squares[n++] = stepErrorSec ** 2;
      }
    }
    return { weights: this.#weights, likely, squares };
  }
}

/** What each noise says of a step: how much it is believed, the step, its variance. */
interface Steps {
  readonly weights: Float64Array;
  readonly likely: Float64Array;
  readonly squares: Float64Array;
}

function likelihoodOf({ weights, likely, squares }: Steps, stepSec: number): number {
  // Over the greatest of them: what notes that lie far off say is more than a number holds.
  let most = Number.NEGATIVE_INFINITY;
  for (let n = 0; n < likely.length; n++) {
    const says = (stepSec * (likely[n]! - 0.5 * stepSec)) / squares[n]!;
    if (weights[n]! > 0 && says > most) most = says;
  }
  let sum = 0;
  for (let n = 0; n < likely.length; n++) {
    if (!(weights[n]! > 0)) continue;
    sum += weights[n]! * Math.exp((stepSec * (likely[n]! - 0.5 * stepSec)) / squares[n]! - most);
  }
  return most + Math.log(Math.max(sum, Number.MIN_VALUE));
}

/** Which share of each stretch lies after a session time. */
export function sharesAfter(stretches: readonly Lateness[], atSec: number): Float64Array {
  const shares = new Float64Array(stretches.length);
  for (let n = 0; n < shares.length; n++) {
    const { atSec: atSecOf, lengthSec = STRETCH_SEC } = stretches[n]!;
    shares[n] = Math.max(0, Math.min(1, 0.5 + (atSecOf - atSec) / lengthSec));
  }
  return shares;
}

/** Index of the first stretch whose middle lies after a session time, s. */
export function indexAfter(stretches: readonly Lateness[], atSec: number): number {
  const at = stretches.findIndex((one) => one.atSec > atSec);
  return at < 0 ? stretches.length : at;
}

/** The scatter and wander that fit best. */
export function playerNoise(stretches: readonly Lateness[], known: readonly number[]): PlayerNoise {
  let most = Number.NEGATIVE_INFINITY;
  let best: PlayerNoise = { scatterSec: 0.0065, wanderSec: 0.0065 };
  const series = seriesOf(stretches, columnsOf(stretches, known));
  for (const noise of NOISES) {
    const likelihood = Math.max(...new Whitened(series, noise).solved.map((one) => one.likelihood));
    if (likelihood <= most) continue;
    most = likelihood;
    best = noise;
  }
  return best;
}

const NOISES: readonly PlayerNoise[] = SCATTERS_SEC.flatMap((scatterSec) =>
  WANDERS_SEC.map((wanderSec) => ({ scatterSec, wanderSec })),
);

function stepColumn(count: number, at: number): Float64Array {
  return Float64Array.from({ length: count }, (_, i) => (i >= at ? 1 : 0));
}

function columnsOf(stretches: readonly Lateness[], known: readonly number[]): Float64Array[] {
  return known.map((at) => stepColumn(stretches.length, at));
}

/** What of the stretches is the same whatever the player's noise, an entry a stretch. */
interface Series {
  /** How much of the wander is kept from the one before. */
  readonly keep: Float64Array;
  /** Variance of its scatter over that of the usual one. */
  readonly scatter: Float64Array;
  readonly later: Float64Array;
  /** Level, drift, known steps. */
  readonly columns: readonly Float64Array[];
}

function seriesOf(stretches: readonly Lateness[], known: readonly Float64Array[]): Series {
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
interface Solved {
  readonly likelihood: number;
  /** The same with level, drift and known steps integrated out, but for a constant of their number. */
  readonly evidence: number;
  readonly values: Float64Array;
  readonly inverse: readonly Float64Array[];
}

/** A step, and what it makes of the likelihood. */
interface WithStep {
  readonly stepSec: number;
  readonly stepErrorSec: number;
  readonly likelihood: number;
}

/** Stretches after the filter: independent, of unit variance. */
class Whitened {
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
    this.#y = this.#filter(series.later);
    this.#columns = series.columns.map((column) => this.#filter(column));
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
    const column = this.#filter(shares, at);
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

  /** from: where values begin to differ from 0. */
  #filter(values: Float64Array, from = 0): Float64Array {
    const out = new Float64Array(values.length);
    const [keep, gain, scale] = [this.#keep, this.#gain, this.#scale];
    let state = 0;
    for (let i = from; i < out.length; i++) {
      state *= keep[i]!;
      const off = values[i]! - state;
      out[i] = off * scale[i]!;
      state += gain[i]! * off;
    }
    return out;
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
