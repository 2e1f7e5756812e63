import type { PitchTrack } from './pitch-tracker.ts';

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
/**
 * From this uncertainty on, s, no attack was heard (a slur, or a rise below 5.6 dB in 20 ms): where the last note rings on, the pitch
 * itself comes up to 0.2 s late there.
 */
export const UNCLEAR_SEC = 0.018;
/** What rings of the last note hides the beginning: then the middle of the rise is taken. */
const SMOOTH_STEPS = 3;

/**
 * When a note is heard to begin, near the time at which its pitch begins. fromSec, toSec: the note, s of the take.
 * Uncertainty, s, one standard deviation: a quarter of the rise, 3 ms at least; 20 ms for a slur.
 */
export function onsetNear(
  track: Pick<PitchTrack, 'stepPowers' | 'stepSec'>,
  fromSec: number,
  toSec: number,
  isTold = false,
): { sec: number; uncertaintySec: number } {
  const { stepPowers, stepSec } = track;
  const levelAt = (step: number): number => {
    let sum = 1e-14;
    let count = 0;
    for (let n = step - SMOOTH_STEPS + 1; n <= step; n++) {
      if (n < 0 || n >= stepPowers.length) continue;
      sum += stepPowers[n]!;
      count++;
    }
    return 10 * Math.log10(sum / Math.max(1, count));
  };
  const first = Math.max(0, Math.round((fromSec - (isTold ? NEAR_SEC : BEFORE_SEC)) / stepSec));
  const last = Math.min(
    stepPowers.length - 1,
    Math.round(Math.min(toSec, fromSec + (isTold ? NEAR_SEC : AFTER_SEC)) / stepSec),
  );
  // The steepest rise within 20 ms is the attack.
  const span = Math.max(1, Math.round(0.02 / stepSec));
  let attack = -1;
  let steepest = LEAST_RISE_DB;
  for (let step = first + span; step <= last; step++) {
    const rise = levelAt(step) - levelAt(step - span);
    if (rise > steepest) {
      steepest = rise;
      attack = step;
    }
  }
  if (attack < 0) return { sec: fromSec, uncertaintySec: 0.02 };
  let peakDb = Number.NEGATIVE_INFINITY;
  for (let step = attack - span; step <= attack + PEAK_WITHIN_SEC / stepSec && step < stepPowers.length; step++) {
    peakDb = Math.max(peakDb, levelAt(step));
  }
  let valleyDb = Number.POSITIVE_INFINITY;
  for (let step = Math.max(0, attack - 3 * span); step <= attack; step++) valleyDb = Math.min(valleyDb, levelAt(step));
  const crossed = Math.max(peakDb - BELOW_PEAK_DB, 0.5 * (peakDb + valleyDb));
  let step = attack;
  while (step > first && levelAt(step) >= crossed) step--;
  while (step < attack + PEAK_WITHIN_SEC / stepSec && levelAt(step) < crossed) step++;
  // A step's level is that of the steps before it, too: its middle lies half the smoothing earlier.
  const sec = (step + 1 - SMOOTH_STEPS / 2) * stepSec;
  return { sec, uncertaintySec: Math.max(0.003, 0.25 * 0.02 * Math.min(4, 20 / steepest)) };
}
