import type { Dips } from './dips.ts';

/** Candidates of one window at most: the likeliest. */
export const MOST_CANDIDATES = 5;

/** Steps of the table of the distribution of thresholds. */
const STEPS = 1000;
/** Share of the thresholds below every dip that still goes to the deepest one. Source: pYIN, section 2.1 (p_a). */
const ABSOLUTE_MINIMUM = 0.01;

/**
 * Beta distributions of YIN's threshold, parameters 2 and b. Source: Mauch and Dixon 2014, "pYIN", ICASSP, section 2.1, which
 * tries means of 0.1, 0.15 and 0.2: b of 18 (their 0.1) tells dips apart, 12 says whether there is a pitch at all; in rooms
 * the last note still rings into the next, and with 18 there, 2 to 4 % more frames of the takes that rang most had no pitch.
 */
const CHOICE = 18;
const VOICING = 12;

/** Cumulative distribution of Beta(2, b). */
function betaBelow(value: number, b: number): number {
  return 1 - (1 - value) ** b * (1 + b * value);
}

/** Share of the thresholds that tell dips apart below each step. */
export const THRESHOLDS_BELOW = Float64Array.from({ length: STEPS + 1 }, (_, step) => betaBelow(step / STEPS, CHOICE));

/** Candidates of one window, by their lag; the arrays are used again. */
export interface LagCandidates {
  count: number;
  /** Frames, fractional. */
  readonly lags: Float64Array;
  readonly probabilities: Float64Array;
  /** The deepest value of the normalised difference: 0 wholly periodic, 1 not at all. */
  deepest: number;
  /** How likely there is a pitch at all, 0 to 1. */
  voicing: number;
}

export function makeCandidates(): LagCandidates {
  return {
    count: 0,
    lags: new Float64Array(MOST_CANDIDATES),
    probabilities: new Float64Array(MOST_CANDIDATES),
    deepest: 1,
    voicing: 0,
  };
}

/**
 * Periods of a window with the probability that YIN, its threshold drawn at random, takes each. YIN takes the first dip below
 * the threshold, so a dip gets the thresholds between its own depth and that of the deepest dip before it; no loop over
 * thresholds is needed. What no dip gets is the probability of no pitch.
 */
export function candidatesOf(dips: Dips, found: LagCandidates): LagCandidates {
  const { count, lags, depths } = dips;
  found.count = 0;
  let record = 1;
  for (let n = 0; n < count; n++) {
    keep(found, lags[n]!, below(record) - below(depths[n]!));
    record = depths[n]!;
  }
  found.deepest = record;
  found.voicing = count > 0 ? 1 - (1 - ABSOLUTE_MINIMUM) * betaBelow(record, VOICING) : 0;
  if (count > 0) raise(found, lags[count - 1]!, ABSOLUTE_MINIMUM * below(record));
  return found;
}

function below(value: number): number {
  return THRESHOLDS_BELOW[Math.min(STEPS, Math.round(value * STEPS))]!;
}

/** Keeps a candidate; where there is no room, instead of the least likely. */
function keep(found: LagCandidates, lag: number, probability: number): void {
  const { lags, probabilities } = found;
  let slot = found.count;
  if (slot === MOST_CANDIDATES) {
    slot = 0;
    for (let n = 1; n < MOST_CANDIDATES; n++) if (probabilities[n]! < probabilities[slot]!) slot = n;
    if (probabilities[slot]! >= probability) return;
  } else found.count++;
  lags[slot] = lag;
  probabilities[slot] = probability;
}

function raise(found: LagCandidates, lag: number, by: number): void {
  for (let n = 0; n < found.count; n++) {
    if (found.lags[n] === lag) {
      found.probabilities[n]! += by;
      return;
    }
  }
  keep(found, lag, by);
}
