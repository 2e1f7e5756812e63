import { STRETCH_SEC } from './onset-sums.ts';
import { type LateAt, type PlayerNoise, seriesOf, Whitened } from './whitened.ts';

/** How late a player's notes were in one stretch of the music; at its middle. */
export interface Lateness extends LateAt {
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

/** Scatters and wanders that are tried, s. A player without any wander is not believed. */
const SCATTERS_SEC = [0.002, 0.003, 0.0045, 0.0065, 0.0095, 0.014, 0.02] as const;
const WANDERS_SEC = [0.002, 0.003, 0.0045, 0.0065, 0.0095, 0.014] as const;
/** Stretches on either side of a step. */
const LEAST_SIDE = 3;
/** The noise is that which fits best, so that a step is known a little worse than it says (measured: 88 % within twice). */
const NOISE_GUESSED = 1.15;
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
  /** By session times: the same places are asked for before and after breaks are known. */
  readonly #tables = new Map<number, StepTable>();

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
    const known = this.#tables.get(atSec);
    if (known?.half === half && known.everySec === everySec) return known.values;
    const steps = this.#stepsAt(atSec);
    if (steps === undefined) return undefined;
    const values = new Float64Array(2 * half + 1);
    for (let n = 0; n < values.length; n++) values[n] = likelihoodOf(steps, (n - half) * everySec);
    this.#tables.set(atSec, { half, everySec, values });
    return values;
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

interface StepTable {
  readonly half: number;
  readonly everySec: number;
  readonly values: Float64Array;
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
