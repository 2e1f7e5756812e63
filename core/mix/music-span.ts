/** A take's loudness over time, as a LoudnessMeter's momentary curve gives it. */
export interface LevelCurve {
  /** Momentary loudness, LUFS, one value each `stepSec`; -Infinity where silent. Value n covers the 0.4 s before its time. */
  readonly momentaryLufs: ArrayLike<number>;
  readonly stepSec: number;
  /** Gated loudness of the take, LUFS. */
  readonly integratedLufs: number;
}

/** Seconds of the curve. */
interface Stretch {
  readonly fromSec: number;
  readonly toSec: number;
}

/**
 * Music is what lies above the take's gated loudness less this, LU. Loud passages lie 3 to 5 LU above it, so that what is 25 LU under
 * them still counts. Chosen on eleven takes with a guide heard through headphones: what leaks of it lies 24 to 33 LU under the gated
 * loudness, before the music and after, and 26 took some of it for music.
 */
const BELOW_LOUDNESS_LU = 22;
/** Noise is not music: that begins so far above the faintest of the take, LU, but never higher than this under the loudness. */
const ABOVE_FAINTEST_LU = 4;
const NOISY_BELOW_LU = 18;
/** The faintest of a take: so much of it is fainter. */
const FAINTEST_SHARE = 0.05;
/** Music lasts: so much of the second after its beginning sounds. A knock or a cough does not. */
const LASTING_SHARE = 0.55;
/**
 * A tail that falls, and a note that swells out of nothing, are followed down to this far under the gated loudness, LU, and no longer
 * than MAXIMUM_TAIL_SEC; where it does not fall by FALLS_LU in FALLING_SEC, it is not a tail but what lies under it.
 */
const TAIL_LU = 42;
const MAXIMUM_TAIL_SEC = 4;
const FALLS_LU = 0.3;
const FALLING_SEC = 0.5;
/** A tail may rise by this much on its way, LU. */
const TAIL_RIPPLE_LU = 1;
/** What a player plays on beyond the piece's end, or before its beginning, counts so long at most, and while no rest is longer than that, s. */
const MOST_BEYOND_SEC = 4;
const LONGEST_REST_SEC = 0.5;
/** The momentary window reaches this far back, s. */
const WINDOW_SEC = 0.4;

/**
 * Where the music of a take lies, in seconds of the curve: from the first lasting sound after `afterSec` (the clap, say)
 * to the end of the last note's tail. piece: where the piece lies, as far as that is known; the music then begins and ends there,
 * but for what goes on without a rest. undefined when nothing lasts. Common practice, no source; the thresholds were
 * chosen on takes with known music.
 */
export function findMusicSpan(curve: LevelCurve, afterSec: number, piece?: Stretch): Stretch | undefined {
  const { momentaryLufs, stepSec, integratedLufs } = curve;
  if (!Number.isFinite(integratedLufs)) return undefined;
  const count = momentaryLufs.length;
  const threshold = thresholdOf(curve);
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
  const end = count - 1;
  // A sound that has just begun at the piece's end is its last one at most, as one is its first that has just ended at its beginning.
  const within =
    piece === undefined
      ? [begin, end]
      : [Math.max(begin, Math.ceil(piece.fromSec / stepSec)), Math.min(end, Math.floor(piece.toSec / stepSec))];
  let first = within[0]!;
  while (first <= within[1]! && !(sounding(first) && lasts(first, 1))) first++;
  if (first > within[1]!) return undefined;
  let last = within[1]!;
  while (last > first && !(sounding(last) && lasts(last, -1))) last--;
  if (piece !== undefined) {
    first = soundsOn(sounding, first, Math.max(begin, within[0]! - Math.round(MOST_BEYOND_SEC / stepSec)), stepSec);
    last = soundsOn(sounding, last, Math.min(end, within[1]! + Math.round(MOST_BEYOND_SEC / stepSec)), stepSec);
  }
  const from = tailFrom(curve, first, begin);
  return { fromSec: Math.max(0, from * stepSec - WINDOW_SEC), toSec: tailFrom(curve, last, end) * stepSec };
}

/** Above this it is music, LUFS. */
function thresholdOf({ momentaryLufs, integratedLufs }: LevelCurve): number {
  const levels = Float64Array.from(momentaryLufs).sort();
  const faintest = levels[Math.floor(FAINTEST_SHARE * levels.length)] ?? Number.NEGATIVE_INFINITY;
  const aboveNoise = Math.min(integratedLufs - NOISY_BELOW_LU, faintest + ABOVE_FAINTEST_LU);
  return Math.max(integratedLufs - BELOW_LOUDNESS_LU, aboveNoise);
}

/** How far towards a value of the curve it goes on sounding without a rest, from another one. */
function soundsOn(sounding: (n: number) => boolean, from: number, to: number, stepSec: number): number {
  const direction = to < from ? -1 : 1;
  const longest = Math.round(LONGEST_REST_SEC / stepSec);
  let reached = from;
  for (let n = from; n !== to && Math.abs(n - reached) <= longest; ) {
    n += direction;
    if (sounding(n)) reached = n;
  }
  return reached;
}

/** The end of a tail, going from one value of the curve towards another: the last at which it still falls. */
function tailFrom({ momentaryLufs, stepSec, integratedLufs }: LevelCurve, from: number, to: number): number {
  const direction = to < from ? -1 : 1;
  const most = Math.min(Math.abs(to - from), Math.round(MAXIMUM_TAIL_SEC / stepSec));
  const falling = Math.round(FALLING_SEC / stepSec);
  let lowest = 0;
  for (let k = 1; k <= most && k - lowest <= falling; k++) {
    const level = momentaryLufs[from + k * direction]!;
    const before = momentaryLufs[from + lowest * direction]!;
    if (level <= integratedLufs - TAIL_LU || level > before + TAIL_RIPPLE_LU) break;
    if (level <= before - FALLS_LU) lowest = k;
  }
  return from + lowest * direction;
}
