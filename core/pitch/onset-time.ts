import { greatest, least } from './fine-series.ts';
import type { PitchTrack } from './pitch-tracker.ts';
import { medianOfRow } from './rank.ts';

/** The steps in which an onset is looked for about the place where the pitch changes, s. */
const BEFORE_SEC = 0.1;
const AFTER_SEC = 0.12;
/** About a place that is told to be a beginning. */
const NEAR_SEC = 0.04;
/** A rise of less than this is a slur: the change of pitch itself is the onset, dB. */
const LEAST_RISE_DB = 3;
/**
 * A note is heard to begin where its level is some 10 dB below its greatest: 7 to 15 dB. Source: Vos and Rasch 1981, "The
 * perceptual onset of musical tones", Perception and Psychophysics 29.
 */
const BELOW_PEAK_DB = 10;
const PEAK_WITHIN_SEC = 0.15;
/** The attack is the steepest rise within this. */
const RISE_SEC = 0.02;
/** What rings of the last note hides the beginning: then the middle of the rise is taken. */
const SMOOTH_STEPS = 3;
/** How far to either side it is asked what speaks for a beginning, and against what the loss of repetition is held. */
const SIGNS_SEC = 0.06;
const USUAL_SEC = 0.12;
const OWN_FROM_SEC = 0.02;
const OWN_TO_SEC = 0.3;

/**
 * How late an onset is found, ms, and how surely, from what is seen of the attack (see `Attack`): where the last
 * note rings on, the new one is seen once it stands above it. Robust fit (Student's t of 3 degrees of freedom, each player counting
 * alike) by test/bench/fit-doubts.ts on 2223 onsets of 25 sampled players in 7 to 11 kinds of melody, rooms of 0.25 to 0.7 s, 15 to 40 dB SNR, against
 * the moment at which the dry note alone is 10 dB below its greatest level. On 12 players held out 95.5 % of 1275 onsets lie within two of these deviations,
 * where 78.6 % lay within what was said before (a quarter of the rise). Of a choir it is 81 to 86 %: they are found some 25 ms late.
 */
const LATE_MS = 1.4;
const LATE_FLAT_MS = 32;
const LATE_DULL_MS = 7;
const SURE_MS = 2.9;
const FLAT = 3.1;
const DULL = 1.4;
const SMOOTH = 1.3;
const LOW = 0.35;
const LEAST_SURE_SEC = 0.05;
/** A rise of so many dB is e times less flat; one of the brightness, and of what does not repeat, by so many is clear. */
const FLAT_DB = 5;
const DULL_DB = 10;
const SMOOTH_DB = 15;
const LOW_HZ = 220;

/**
 * From this uncertainty on, s, no attack was heard (mostly a slur): where the last note rings on, the beginning may be found up to
 * 0.1 s off.
 */
export const UNCLEAR_SEC = 0.03;
/**
 * Of a note's uncertainty so much is its player's own way to begin, which the middle of many notes does not take out. Chosen on 151 melodies
 * of those players; held out, the truth lies within two deviations of the middle of a melody's clear notes in 95 % of 87.
 */
export const SHARED_DOUBT = 0.4;

/** What onsets are read from. */
export type OnsetTrack = Pick<
  PitchTrack,
  'stepPowers' | 'brightPowers' | 'breakPowers' | 'stepSec' | 'hz' | 'firstSec' | 'hopSec'
>;

/** What is seen of an attack. */
export interface Attack {
  /** Where it lies, s of the take, uncorrected. */
  readonly sec: number;
  /** How little the level rises, 0 (steeply) to 1; the brightness too little; the sound repeats on all the same. */
  readonly flat: number;
  readonly dull: number;
  readonly smooth: number;
  /** How many octaves its note lies below 220 Hz, 0 and more. */
  readonly octaves: number;
}

/**
 * When a note is heard to begin, near the time at which its pitch begins. fromSec, toSec: the note, s of the take.
 * Uncertainty, s, one standard deviation: see `LATE_MS`.
 */
export function onsetNear(
  track: OnsetTrack,
  fromSec: number,
  toSec: number,
  isTold = false,
): { sec: number; uncertaintySec: number } {
  const { sec, flat, dull, smooth, octaves } = attackNear(track, fromSec, toSec, isTold);
  const lateMs = LATE_MS + LATE_FLAT_MS * flat + LATE_DULL_MS * dull;
  const sureMs = SURE_MS * Math.exp(FLAT * flat + DULL * dull + SMOOTH * smooth + LOW * octaves);
  return { sec: sec - lateMs / 1000, uncertaintySec: Math.min(LEAST_SURE_SEC, sureMs / 1000) };
}

/** What is seen of the attack near a place; as `onsetNear`. */
export function attackNear(track: OnsetTrack, fromSec: number, toSec: number, isTold: boolean): Attack {
  const { stepPowers, brightPowers, breakPowers, stepSec } = track;
  const stepAt = (sec: number): number => Math.round(sec / stepSec);
  const first = Math.max(0, stepAt(fromSec - (isTold ? NEAR_SEC : BEFORE_SEC)));
  const last = Math.min(stepPowers.length - 1, stepAt(Math.min(toSec, fromSec + (isTold ? NEAR_SEC : AFTER_SEC))));
  const span = Math.max(1, Math.round(RISE_SEC / stepSec));
  const reach = Math.floor(PEAK_WITHIN_SEC / stepSec);
  const begin = Math.max(0, first - 2 * span);
  const levels = levelsOf(stepPowers, begin, last + reach + 1);
  const { rise, at } = steepest(levels, first - begin, last - begin, span);
  const bright = levelsOf(brightPowers, stepAt(fromSec - SIGNS_SEC), stepAt(fromSec + SIGNS_SEC));
  const breaks = levelsOf(breakPowers, stepAt(fromSec - SIGNS_SEC), stepAt(fromSec + SIGNS_SEC));
  const usual = medianOfRow(levelsOf(breakPowers, stepAt(fromSec - USUAL_SEC), stepAt(fromSec + USUAL_SEC)));
  const signs = {
    flat: Math.exp(-rise / FLAT_DB),
    dull: Math.max(0, 1 - steepest(bright, 0, bright.length - 1, span).rise / DULL_DB),
    smooth: Math.max(0, Math.min(1, 1 - (greatest(breaks, 0, breaks.length - 1) - usual) / SMOOTH_DB)),
    octaves: Math.max(0, Math.log2(LOW_HZ / hzAfter(track, fromSec, toSec))),
  };
  if (rise <= LEAST_RISE_DB) return { sec: fromSec, ...signs };
  const step = begin + crossing(levels, at, { first: first - begin, span, reach });
  // A step's level is that of the steps before it, too: its middle lies half the smoothing earlier.
  return { sec: (step + 1 - SMOOTH_STEPS / 2) * stepSec, ...signs };
}

/** Where levels pass what is heard as the beginning, about the end of their steepest rise. first: not before it; all in steps. */
function crossing(
  levels: Float64Array,
  attack: number,
  { first, span, reach }: { readonly first: number; readonly span: number; readonly reach: number },
): number {
  const end = Math.min(levels.length - 1, attack + reach);
  const peakDb = greatest(levels, attack - span, end);
  const valleyDb = least(levels, attack - 3 * span, attack);
  const crossedDb = Math.max(peakDb - BELOW_PEAK_DB, 0.5 * (peakDb + valleyDb));
  let step = attack;
  while (step > first && levels[step]! >= crossedDb) step--;
  while (step < end && levels[step]! < crossedDb) step++;
  return step;
}

/** The greatest rise over `span` steps that ends within first and last, dB (0 where nothing rises), and where it ends. */
function steepest(levels: Float64Array, first: number, last: number, span: number): { rise: number; at: number } {
  let rise = 0;
  let at = first;
  for (let step = first + span; step <= last; step++) {
    const one = levels[step]! - levels[step - span]!;
    if (one > rise) {
      rise = one;
      at = step;
    }
  }
  return { rise, at };
}

/** Levels of steps from one to before another, dB, each over itself and the two before; those beyond the row are left out. */
function levelsOf(powers: Float64Array, from: number, to: number): Float64Array {
  const begin = Math.max(0, from);
  const end = Math.min(powers.length, to);
  const levels = new Float64Array(Math.max(1, end - begin)).fill(-140);
  for (let step = begin; step < end; step++) {
    let sum = 1e-14;
    for (let n = Math.max(0, step - SMOOTH_STEPS + 1); n <= step; n++) sum += powers[n]!;
    levels[step - begin] = 10 * Math.log10(sum / Math.min(SMOOTH_STEPS, step + 1));
  }
  return levels;
}

/** The pitch that a note settles on, Hz; of none 220. */
function hzAfter({ hz, firstSec, hopSec }: OnsetTrack, fromSec: number, toSec: number): number {
  const frameAt = (sec: number): number => Math.max(0, Math.round((sec - firstSec) / hopSec));
  const first = frameAt(fromSec + OWN_FROM_SEC);
  const last = Math.max(first + 1, frameAt(Math.min(toSec, fromSec + OWN_TO_SEC)));
  const known = new Float64Array(last - first);
  let count = 0;
  for (let n = first; n < Math.min(hz.length, last); n++) if (!Number.isNaN(hz[n]!)) known[count++] = hz[n]!;
  return count === 0 ? LOW_HZ : medianOfRow(known, count);
}
