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

/** Half of the taps that tell a value half way between two; they sum to 1/2. */
const HALF_TAPS = halfTaps();

function halfTaps(): Float64Array {
  const taps = Float64Array.from({ length: 4 }, (_, k) => {
    const x = Math.PI * (k + 0.5);
    return (Math.sin(x) / x) * Math.cos(x / 9);
  });
  const sum = taps.reduce((total, tap) => total + tap, 0);
  return taps.map((tap) => (0.5 * tap) / sum);
}

const thresholdBelow = Float64Array.from({ length: STEPS + 1 }, (_, step) => betaBelow(step / STEPS, CHOICE));

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
 * normalised: d'(lag); lags from `shortest` to `longest` (frames, within the row without its ends).
 */
export function findCandidates(
  normalised: Float64Array,
  shortest: number,
  longest: number,
  found: LagCandidates,
): LagCandidates {
  found.count = 0;
  found.deepest = 1;
  let record = 1;
  let bestLag = 0;
  for (let lag = shortest; lag <= longest; lag++) {
    const value = normalised[lag]!;
    if (value >= 1 || value >= normalised[lag - 1]! || value > normalised[lag + 1]!) continue;
    refineDip(normalised, lag);
    const { shift, depth } = dip;
    if (depth >= record) continue;
    keep(found, lag + shift, below(record) - below(depth));
    record = depth;
    bestLag = lag + shift;
  }
  found.deepest = record;
  found.voicing = bestLag > 0 ? 1 - (1 - ABSOLUTE_MINIMUM) * betaBelow(record, VOICING) : 0;
  if (bestLag > 0) raise(found, bestLag, ABSOLUTE_MINIMUM * below(record));
  return found;
}

/** What `refineDip` found; used again. */
const dip = { shift: 0, depth: 0 };

/**
 * Where between the lags a dip is deepest, and how deep. Between two lags the function is told by the eight about them (it has no
 * more band than the sound): a period that falls between two frames of a sound of high partials is 0.06 above its true
 * depth at the nearer one, and 0.01 by a parabola through three, more than the partials that tell it from its third.
 */
function refineDip(normalised: Float64Array, lag: number): void {
  const left = between(normalised, lag - 1);
  const right = between(normalised, lag);
  const value = normalised[lag]!;
  let middle = 0;
  let [before, here, after] = [left, value, right];
  if (left < value && left <= right) {
    middle = -0.5;
    [before, here, after] = [normalised[lag - 1]!, left, value];
  } else if (right < value) {
    middle = 0.5;
    [before, here, after] = [value, right, normalised[lag + 1]!];
  }
  const bend = before - 2 * here + after;
  const shift = bend > 0 ? (0.5 * (before - after)) / bend : 0;
  dip.depth = Math.max(0, here - 0.25 * (before - after) * shift);
  dip.shift = middle + 0.5 * shift;
}

/** Half way between a lag and the next: sinc under a cosine, eight lags; the mean of two where there are no eight. */
function between(row: Float64Array, lag: number): number {
  if (lag < 3 || lag + 4 >= row.length - 1) return 0.5 * (row[lag]! + row[lag + 1]!);
  let sum = 0;
  for (let k = 0; k < 4; k++) sum += HALF_TAPS[k]! * (row[lag - k]! + row[lag + 1 + k]!);
  return sum;
}

function below(value: number): number {
  return thresholdBelow[Math.min(STEPS, Math.round(value * STEPS))]!;
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
