/** What tells the beginning of a note at one step: core/pitch/begin-signs.ts, which says what each number is for. */

import { log10, pow } from './math';
import { room } from './room';
import { at, greatest, isNumber, least, median, put } from './rows';
import {
  breaks, bright, cents, decibels, frameAt, frames, levels, loudDb, octaveAt, restDb, rises, steps,
} from './series';

const RISE_ABOUT: i32 = 8;
const PEAK_ABOUT: i32 = 45;
const FALL_FROM: i32 = 88;
const DIP_ABOUT: i32 = 75;
const LOW_FROM: i32 = 20;
const LOW_TO: i32 = 10;
const BREAK_ABOUT: i32 = 10;
const USUAL_ABOUT: i32 = 200;
const SWING_ABOUT: i32 = 200;
const SWING_FLOOR_DB: f64 = 25;
const WIDE_FRAMES: i32 = 35;
const WIDE_CENTS: f64 = 100;
const FLICKER_FRAMES: i32 = 4;
const MOST_FLICKER_CENTS: f64 = 200;
const OTHER_CENTS: f64 = 60;
const FASTEST_SWING: i32 = 11;
const SLOWEST_SWING: i32 = 27;

/** Places in a row of signs, in the order in which they are weighed. */
export const RISE: i32 = 0;
const STEEPER: i32 = 1;
export const DIP: i32 = 2;
export const BRIGHTER: i32 = 3;
const SWUNG_BREAKS: i32 = 4;
const BREAKS: i32 = 5;
const BREAKS_MORE: i32 = 6;
const BREAKS_USUALLY: i32 = 7;
const WAY: i32 = 8;
export const IS_OTHER: i32 = 9;
const FLICKER: i32 = 10;
const VIBRATO: i32 = 11;
export const SWING: i32 = 12;
const SOFT: i32 = 13;
const OCTAVE: i32 = 14;
export const SIGNS: i32 = 15;

/** Room for the values of a stretch. */
let values: usize = 0;
/** Power of the last row that was asked how it swings. */
let swingPower: f64 = 0;

export function planSigns(): void {
  values = room(1024);
}

// @ts-ignore: decorator
@inline function clamped(value: f64, from: f64, to: f64): f64 { return max<f64>(from, min<f64>(to, value)); }

/** Fills a row with the signs at a step. */
export function signsAt(step: i32, signs: usize): void {
  const frame = frameAt(step);
  const rise = greatest(rises, steps, step - RISE_ABOUT, step + RISE_ABOUT);
  const fall = -least(rises, steps, step - FALL_FROM, step - RISE_ABOUT);
  const peakDb = greatest(levels, steps, step - PEAK_ABOUT, step + PEAK_ABOUT);
  const breakDb = greatest(breaks, steps, step - BREAK_ABOUT, step + BREAK_ABOUT);
  const ownDb = decibels(max<f64>(0, pow(10, breakDb / 10) - pow(10, restDb / 10))) - peakDb;
  const usually = usualBreak(step);
  const swing = swingAt(step, peakDb);
  const before = medianBetween(frame - 10, frame - 3);
  const after = medianBetween(frame + 3, frame + 10);
  const way = isNumber(before) && isNumber(after) ? abs(after - before) : WIDE_CENTS;
  const lowDb = least(levels, steps, step - LOW_FROM, step + LOW_TO);
  const highBeforeDb = greatest(levels, steps, step - DIP_ABOUT, step - LOW_FROM);
  const highAfterDb = greatest(levels, steps, step + LOW_TO, step + DIP_ABOUT);
  let brighter = -Infinity;
  for (let n = max(0, step - 17); n <= step + 12 && n + 10 < steps; n++) {
    brighter = max<f64>(brighter, at(bright, n + 10) - at(bright, n));
  }
  const badly = (clamped(ownDb, -30, 0) + 20) / 8;
  put(signs, RISE, clamped(rise, 0, 12) / 6);
  put(signs, STEEPER, clamped(rise - fall, -10, 10) / 5);
  put(signs, DIP, clamped(min<f64>(highBeforeDb, highAfterDb) - lowDb, 0, 15) / 6);
  put(signs, BRIGHTER, clamped(brighter - rise, -3, 6) / 3);
  put(signs, SWUNG_BREAKS, badly * swing);
  put(signs, BREAKS, badly);
  put(signs, BREAKS_MORE, clamped(breakDb - peakDb - usually, 0, 20) / 8);
  put(signs, BREAKS_USUALLY, (clamped(usually, -35, 0) + 20) / 6);
  put(signs, WAY, min<f64>(WIDE_CENTS, way) / 50);
  put(signs, IS_OTHER, way > OTHER_CENTS ? 1 : 0);
  put(signs, FLICKER, flickerAt(frame));
  put(signs, VIBRATO, vibratoAt(frame, isNumber(after) ? after : before));
  put(signs, SWING, swing);
  put(signs, SOFT, clamped(loudDb - peakDb, 0, 40) / 10);
  put(signs, OCTAVE, octaveAt(step));
}

function medianBetween(from: i32, to: i32): f64 {
  let count = 0;
  for (let n = max(0, from); n < min(frames, to); n++) {
    if (!isNumber(at(cents, n))) continue;
    put(values, count, at(cents, n));
    count++;
  }
  return median(values, count);
}

/** What the sound does not repeat beside its level, dB: the median of the pitched steps about a place. */
function usualBreak(step: i32): f64 {
  let count = 0;
  const end = min(steps - 1, step + USUAL_ABOUT);
  for (let n = max(0, step - USUAL_ABOUT); n <= end; n += 5) {
    if (!isNumber(at(cents, frameAt(n)))) continue;
    put(values, count, at(breaks, n) - at(levels, n));
    count++;
  }
  return count == 0 ? 0 : median(values, count);
}

// @ts-ignore: decorator
@inline function centsAt(frame: i32): f64 { return frame >= 0 && frame < frames ? at(cents, frame) : NaN; }

/** How far a frame's pitch lies off the middle of those two frames before and after, decades of cents. */
function flickerAt(frame: i32): f64 {
  let most: f64 = 0;
  for (let n = frame - FLICKER_FRAMES; n <= frame + FLICKER_FRAMES + 1; n++) {
    const off = abs(centsAt(n) - 0.5 * (centsAt(n - 2) + centsAt(n + 2)));
    if (isNumber(off)) most = max<f64>(most, min<f64>(MOST_FLICKER_CENTS, off));
  }
  return log10(1 + most);
}

function vibratoAt(frame: i32, middle: f64): f64 {
  let count = 0;
  for (let n = max(0, frame - WIDE_FRAMES); n <= min(frames - 1, frame + WIDE_FRAMES); n++) {
    if (!(abs(at(cents, n) - middle) < WIDE_CENTS)) continue;
    put(values, count, at(cents, n));
    count++;
  }
  if (count <= 30) return 0;
  const likeness = swingOf(count);
  return (min<f64>(60, sqrt<f64>(2 * swingPower)) / 20) * likeness;
}

function swingAt(step: i32, peakDb: f64): f64 {
  let count = 0;
  for (let n = max(0, step - SWING_ABOUT); n <= min(steps - 1, step + SWING_ABOUT); n += 5) {
    put(values, count, max<f64>(at(levels, n), peakDb - SWING_FLOOR_DB));
    count++;
  }
  return swingOf(count);
}

/** How alike the first values are to themselves one swing later, at the best; their power about their mean is `swingPower`. */
function swingOf(count: i32): f64 {
  let mean: f64 = 0;
  for (let n = 0; n < count; n++) mean += at(values, n) / <f64>count;
  let power: f64 = 0;
  for (let n = 0; n < count; n++) {
    const value = at(values, n) - mean;
    put(values, n, value);
    power += value * value;
  }
  swingPower = power / <f64>count;
  let likeness: f64 = 0;
  for (let lag = FASTEST_SWING; lag <= SLOWEST_SWING && lag < count - 8; lag += 2) {
    let products: f64 = 0;
    let squares: f64 = 1e-9;
    for (let n = 0; n + lag < count; n++) {
      const one = at(values, n);
      const other = at(values, n + lag);
      products += one * other;
      squares += 0.5 * (one * one + other * other);
    }
    likeness = max<f64>(likeness, products / squares);
  }
  return likeness;
}
