/** A take's loudness over time, as a LoudnessMeter's momentary curve gives it. */
export interface LevelCurve {
  /** Momentary loudness, LUFS, one value each `stepSec`; -Infinity where silent. Value n covers the 0.4 s before its time. */
  readonly momentaryLufs: ArrayLike<number>;
  readonly stepSec: number;
  /** Gated loudness of the take, LUFS. */
  readonly integratedLufs: number;
}

/** Music is what lies above the take's gated loudness less this, LU. Chosen: decays of plucked notes stay above it. */
const BELOW_LOUDNESS_LU = 26;
/** Music lasts: so much of the second after its beginning sounds. A knock or a cough does not. */
const LASTING_SHARE = 0.55;
/** A tail is followed down to this far under the gated loudness, LU, and no longer than MAXIMUM_TAIL_SEC. */
const TAIL_LU = 42;
const MAXIMUM_TAIL_SEC = 4;
/** The momentary window reaches this far back, s. */
const WINDOW_SEC = 0.4;

/**
 * Where the music of a take lies, in seconds of the curve: from the first lasting sound after `afterSec` (the clap, say)
 * to the end of the last note's tail. undefined when nothing lasts. Common practice, no source; the thresholds were
 * chosen on takes with known music.
 */
export function findMusicSpan(curve: LevelCurve, afterSec: number): { fromSec: number; toSec: number } | undefined {
  const { momentaryLufs, stepSec, integratedLufs } = curve;
  if (!Number.isFinite(integratedLufs)) return undefined;
  const threshold = integratedLufs - BELOW_LOUDNESS_LU;
  const count = momentaryLufs.length;
  const second = Math.max(1, Math.round(1 / stepSec));
  const sounding = (n: number): boolean => momentaryLufs[n]! > threshold;
  const lasts = (from: number, direction: 1 | -1): boolean => {
    let heard = 0;
    for (let k = 0; k < second; k++) {
      const n = from + k * direction;
      if (n >= 0 && n < count && sounding(n)) heard++;
    }
    return heard >= second * LASTING_SHARE;
  };
  const begin = Math.ceil((afterSec + WINDOW_SEC) / stepSec);
  let first = begin;
  while (first < count && !(sounding(first) && lasts(first, 1))) first++;
  if (first >= count) return undefined;
  let last = count - 1;
  while (last > first && !(sounding(last) && lasts(last, -1))) last--;
  let tail = last;
  const tailEnd = Math.min(count - 1, last + Math.round(MAXIMUM_TAIL_SEC / stepSec));
  while (
    tail < tailEnd &&
    momentaryLufs[tail + 1]! > integratedLufs - TAIL_LU &&
    momentaryLufs[tail + 1]! <= momentaryLufs[tail]! + 1
  ) {
    tail++;
  }
  return { fromSec: Math.max(0, first * stepSec - WINDOW_SEC), toSec: tail * stepSec };
}
