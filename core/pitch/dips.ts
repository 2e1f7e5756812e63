/** Most dips of a window. */
export const MOST_DIPS = 257;

/** Half of the taps that tell a value half way between two; they sum to 1/2. */
export const HALF_TAPS = halfTaps();

function halfTaps(): Float64Array {
  const taps = Float64Array.from({ length: 4 }, (_, k) => {
    const x = Math.PI * (k + 0.5);
    return (Math.sin(x) / x) * Math.cos(x / 9);
  });
  const sum = taps.reduce((total, tap) => total + tap, 0);
  return taps.map((tap) => (0.5 * tap) / sum);
}

/** The dips of a row of YIN's normalised difference that lie deeper than all before them; the arrays are used again. */
export interface Dips {
  count: number;
  /** Frames, fractional. */
  readonly lags: Float64Array;
  readonly depths: Float64Array;
}

export function makeDips(): Dips {
  return { count: 0, lags: new Float64Array(MOST_DIPS), depths: new Float64Array(MOST_DIPS) };
}

/** normalised: d'(lag); lags from `shortest` to `longest` (frames, within the row without its ends). */
export function findDips(normalised: Float64Array, shortest: number, longest: number, dips: Dips): Dips {
  dips.count = 0;
  let record = 1;
  for (let lag = shortest; lag <= longest; lag++) {
    const value = normalised[lag]!;
    if (value >= 1 || value >= normalised[lag - 1]! || value > normalised[lag + 1]!) continue;
    refineDip(normalised, lag);
    if (dip.depth >= record) continue;
    record = dip.depth;
    dips.lags[dips.count] = lag + dip.shift;
    dips.depths[dips.count++] = record;
  }
  return dips;
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
