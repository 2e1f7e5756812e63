import { decibels, type FineSeries, greatest, least } from './fine-series.ts';
import { medianOfRow } from './rank.ts';

/**
 * What tells the beginning of a note from the swings of a held one: the signs that Bello and others 2005, "A tutorial on onset detection
 * in music signals", IEEE Trans. SAP 13, sections II and III, gather, in terms of one note whose pitch is known. About 0 to 3 each.
 */
export interface BeginSigns {
  /** Steepest rise of the level, and how much steeper it is than the steepest fall in the 0.2 s before. */
  readonly rise: number;
  readonly steeper: number;
  /** How deep the level dips below what it was in the 0.15 s before and is in the 0.15 s after. */
  readonly dip: number;
  /** How much steeper than the level the brightness rises, at its steepest. */
  readonly brighter: number;
  /** How badly the sound repeats beside the level of the note, how much worse than it usually does, and how it usually does. */
  readonly breaks: number;
  readonly breaksMore: number;
  readonly breaksUsually: number;
  /** How far the pitch goes from 70 ms before to 70 ms after, and whether that is another note. */
  readonly way: number;
  readonly isOther: number;
  /** How much the pitch flickers. */
  readonly flicker: number;
  /** How far the pitch swings times how alike it is to itself a swing later; how alike the level is. */
  readonly vibrato: number;
  readonly swing: number;
  /** How badly the sound repeats where the level swings so again and again. */
  readonly swungBreaks: number;
  /** How soft it is beside the loud steps of the take. */
  readonly soft: number;
  readonly octave: number;
}

/** Ranges about a place, steps of 2 ms. */
const RISE_ABOUT = 8;
const PEAK_ABOUT = 45;
const FALL_FROM = 88;
const DIP_ABOUT = 75;
const LOW_FROM = 20;
const LOW_TO = 10;
const BREAK_ABOUT = 10;
const USUAL_ABOUT = 200;
const SWING_ABOUT = 200;
const SWING_FLOOR_DB = 25;
/** Ranges about a place, frames of 10 ms. */
const WIDE_FRAMES = 35;
const WIDE_CENTS = 100;
const FLICKER_FRAMES = 4;
const MOST_FLICKER_CENTS = 200;
const OTHER_CENTS = 60;
/** Swings of 4 to 9 a second, frames. */
const FASTEST_SWING = 11;
const SLOWEST_SWING = 27;

/** The signs at one step. */
export function signsAt(series: FineSeries, step: number): BeginSigns {
  const { levels, bright, breaks, rises, cents } = series;
  const frame = series.frameAt(step);
  const rise = greatest(rises, step - RISE_ABOUT, step + RISE_ABOUT);
  const fall = -least(rises, step - FALL_FROM, step - RISE_ABOUT);
  const peakDb = greatest(levels, step - PEAK_ABOUT, step + PEAK_ABOUT);
  const breakDb = greatest(breaks, step - BREAK_ABOUT, step + BREAK_ABOUT);
  const ownDb = decibels(Math.max(0, 10 ** (breakDb / 10) - 10 ** (series.restDb / 10))) - peakDb;
  const usually = usualBreak(series, step);
  const swing = swingAt(series, step, peakDb);
  const before = medianBetween(cents, frame - 10, frame - 3);
  const after = medianBetween(cents, frame + 3, frame + 10);
  const way = Number.isNaN(before) || Number.isNaN(after) ? WIDE_CENTS : Math.abs(after - before);
  const lowDb = least(levels, step - LOW_FROM, step + LOW_TO);
  const highBeforeDb = greatest(levels, step - DIP_ABOUT, step - LOW_FROM);
  const highAfterDb = greatest(levels, step + LOW_TO, step + DIP_ABOUT);
  let brighter = Number.NEGATIVE_INFINITY;
  for (let n = Math.max(0, step - 17); n <= step + 12 && n + 10 < series.steps; n++) {
    brighter = Math.max(brighter, bright[n + 10]! - bright[n]!);
  }
  const dipDb = Math.min(highBeforeDb, highAfterDb) - lowDb;
  return {
    rise: clamped(rise, 0, 12) / 6,
    steeper: clamped(rise - fall, -10, 10) / 5,
    dip: clamped(dipDb, 0, 15) / 6,
    brighter: clamped(brighter - rise, -3, 6) / 3,
    swungBreaks: ((clamped(ownDb, -30, 0) + 20) / 8) * swing,
    breaks: (clamped(ownDb, -30, 0) + 20) / 8,
    breaksMore: clamped(breakDb - peakDb - usually, 0, 20) / 8,
    breaksUsually: (clamped(usually, -35, 0) + 20) / 6,
    way: Math.min(WIDE_CENTS, way) / 50,
    isOther: way > OTHER_CENTS ? 1 : 0,
    flicker: flickerAt(cents, frame),
    vibrato: vibratoAt(cents, frame, Number.isNaN(after) ? before : after),
    swing,
    soft: clamped(series.loudDb - peakDb, 0, 40) / 10,
    octave: series.octaveAt(step),
  };
}

function clamped(value: number, from: number, to: number): number {
  return Math.max(from, Math.min(to, value));
}

function medianBetween(row: Float64Array, from: number, to: number): number {
  const values = new Float64Array(Math.max(0, to - from));
  let count = 0;
  for (let n = Math.max(0, from); n < Math.min(row.length, to); n++)
    if (!Number.isNaN(row[n]!)) values[count++] = row[n]!;
  return medianOfRow(values, count);
}

/** What the sound does not repeat beside its level, dB: the median of the pitched steps within 0.4 s. */
function usualBreak(series: FineSeries, step: number): number {
  const { breaks, levels, cents } = series;
  const values = new Float64Array(2 * USUAL_ABOUT);
  let count = 0;
  for (let n = Math.max(0, step - USUAL_ABOUT); n <= Math.min(series.steps - 1, step + USUAL_ABOUT); n += 5) {
    if (!Number.isNaN(cents[series.frameAt(n)]!)) values[count++] = breaks[n]! - levels[n]!;
  }
  return count === 0 ? 0 : medianOfRow(values, count);
}

/** How far a frame's pitch lies off the middle of those two frames before and after, decades of cents. */
function flickerAt(cents: Float64Array, frame: number): number {
  let most = 0;
  for (let n = frame - FLICKER_FRAMES; n <= frame + FLICKER_FRAMES + 1; n++) {
    const off = Math.abs(
      (cents[n] ?? Number.NaN) - 0.5 * ((cents[n - 2] ?? Number.NaN) + (cents[n + 2] ?? Number.NaN)),
    );
    if (!Number.isNaN(off)) most = Math.max(most, Math.min(MOST_FLICKER_CENTS, off));
  }
  return Math.log10(1 + most);
}

function vibratoAt(cents: Float64Array, frame: number, middle: number): number {
  const near: number[] = [];
  for (let n = Math.max(0, frame - WIDE_FRAMES); n <= Math.min(cents.length - 1, frame + WIDE_FRAMES); n++) {
    if (Math.abs(cents[n]! - middle) < WIDE_CENTS) near.push(cents[n]!);
  }
  if (near.length <= 30) return 0;
  const { likeness, power } = swingOf(near);
  return (Math.min(60, Math.sqrt(2 * power)) / 20) * likeness;
}

function swingAt(series: FineSeries, step: number, peakDb: number): number {
  const row: number[] = [];
  for (let n = Math.max(0, step - SWING_ABOUT); n <= Math.min(series.steps - 1, step + SWING_ABOUT); n += 5) {
    row.push(Math.max(series.levels[n]!, peakDb - SWING_FLOOR_DB));
  }
  return swingOf(row).likeness;
}

/** How alike a row of frames is to itself one swing later, at the best, 0 to 1; and its power about its mean. */
function swingOf(row: readonly number[]): { likeness: number; power: number } {
  const moving = new Float64Array(row);
  let mean = 0;
  for (const value of row) mean += value / row.length;
  for (let n = 0; n < moving.length; n++) moving[n]! -= mean;
  let likeness = 0;
  for (let lag = FASTEST_SWING; lag <= SLOWEST_SWING && lag < row.length - 8; lag += 2) {
    let products = 0;
    let squares = 1e-9;
    for (let n = 0; n + lag < moving.length; n++) {
      products += moving[n]! * moving[n + lag]!;
      squares += 0.5 * (moving[n]! * moving[n]! + moving[n + lag]! * moving[n + lag]!);
    }
    likeness = Math.max(likeness, products / squares);
  }
  return { likeness, power: moving.reduce((sum, value) => sum + value * value, 0) / row.length };
}
