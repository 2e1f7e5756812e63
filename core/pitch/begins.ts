import { type BeginSigns, signsAt } from './begin-signs.ts';
import { FineSeries, greatest } from './fine-series.ts';
import type { PitchTrack } from './pitch-tracker.ts';
import { sortRow } from './rank.ts';

/** A place at which a note may begin, s of the take, and how much speaks for it: nats; 0 is as likely as not. */
export interface BeginPlace {
  readonly sec: number;
  readonly score: number;
}

/** The same with what speaks for it. */
export interface Begin extends BeginPlace {
  readonly signs: BeginSigns;
}

/** Places lie this far apart, steps of 2 ms. */
const APART = 15;
const BESIDE = 20;
const LEAST_RISE_DB = 1;
/** 1.5 dB. */
const LEAST_SAME_RISE = 0.25;
/**
 * Notes repeated as evenly as a machine does swing as much alike as a vibrato: there a dip of 7 dB out of which the brightness rises
 * 0.8 dB more steeply than the level makes up for it. Not from the regression: chosen so that oboe notes at 5.5 a second are heard.
 */
const DEEP_DIP = 7 / 6;
const CLEARLY_BRIGHTER = 0.8 / 3;
const BRIGHT_DIP = 1.8;
const LEAST_BREAK_DB = -25;
const PEAK_ABOUT = 40;
const LEAP_CENTS = 60;
const LEAP_FRAMES = 6;

type Weights = Readonly<Record<keyof BeginSigns | 'base', number>>;

/**
 * What the signs weigh, nats: logistic regression on 12471 places in 307 melodies of sampled instruments, in rooms at 15 to 40 dB SNR,
 * by test/bench/fit-begins.ts, which prints them. One set where the pitch stays, one where it goes to another note: there a swing of
 * the pitch speaks against nothing.
 */
const SAME_NOTE: Weights = {
  base: -1.71,
  rise: 0.35,
  steeper: 0.92,
  dip: 1.45,
  brighter: 0.58,
  swungBreaks: 0.96,
  breaks: 1.28,
  breaksMore: -0.32,
  breaksUsually: -0.7,
  way: -2.92,
  isOther: 0,
  flicker: 1.37,
  vibrato: -1.74,
  swing: -2.08,
  soft: -1.17,
  octave: -0.04,
};
const OTHER_NOTE: Weights = {
  base: -9.36,
  rise: 2.03,
  steeper: 1.21,
  dip: 0.31,
  brighter: 0.51,
  swungBreaks: 0.32,
  breaks: 0.45,
  breaksMore: 1.04,
  breaksUsually: 0.1,
  way: 3.17,
  isOther: 0,
  flicker: 0.56,
  vibrato: -0.1,
  swing: 0.28,
  soft: -0.41,
  octave: 0.06,
};
export const SIGNS = (Object.keys(SAME_NOTE) as readonly (keyof Weights)[]).filter((name) => name !== 'base');
/** Both sets as rows: the base, then the signs in their order. */
export const WEIGHTS = [SAME_NOTE, OTHER_NOTE].map((set) => {
  return Float64Array.from(['base' as const, ...SIGNS], (name) => set[name]);
});

/** How likely a note begins, nats, 0 as likely as not. */
function scoreOf(signs: BeginSigns): number {
  const weights = signs.isOther === 1 ? OTHER_NOTE : SAME_NOTE;
  // Where the pitch stays, only a level that rises somewhere can begin a note; ends, too, repeat badly.
  if (signs.isOther === 0 && signs.rise < LEAST_SAME_RISE) return Number.NEGATIVE_INFINITY;
  const score = SIGNS.reduce((sum, name) => sum + weights[name] * signs[name], weights.base);
  const isBrightDip = signs.isOther === 0 && signs.dip > DEEP_DIP && signs.brighter > CLEARLY_BRIGHTER;
  return isBrightDip ? score + BRIGHT_DIP * signs.swing : score;
}

/** Places at which a note may begin, in time order: where the level rises, the sound stops repeating or the pitch goes elsewhere. */
export function possibleBegins(track: PitchTrack): Begin[] {
  const series = new FineSeries(track);
  const places: number[] = [];
  const near = new Uint8Array(series.steps);
  const take = (found: readonly number[]): void => {
    places.push(...found);
    for (const place of found) near.fill(1, Math.max(0, place - BESIDE + 1), Math.max(0, place + BESIDE));
  };
  const isFree = (step: number): boolean =>
    near[step] === undefined ? places.every((place) => Math.abs(place - step) >= BESIDE) : near[step] === 0;
  take([...risesOf(series)]);
  take(breaksOf(series).filter(isFree));
  take(leapsOf(series, track).filter(isFree));
  return places
    .sort((a, b) => a - b)
    .map((step) => {
      const signs = signsAt(series, step);
      return { sec: (step + 0.5) * series.stepSec, signs, score: scoreOf(signs) };
    });
}

/** Whether there is a pitch from 30 ms before a step to 60 ms after. */
function isPitched({ cents }: FineSeries, frame: number): boolean {
  for (let n = Math.max(0, frame - 3); n <= Math.min(cents.length - 1, frame + 6); n++) {
    if (!Number.isNaN(cents[n]!)) return true;
  }
  return false;
}

function isTop(row: Float64Array, step: number): boolean {
  const here = row[step]!;
  for (let n = Math.max(0, step - APART); n <= Math.min(row.length - 1, step + APART); n++) {
    if (row[n]! > here) return false;
  }
  return true;
}

function* risesOf(series: FineSeries): Generator<number> {
  for (let step = 25; step < series.steps - 25; step++) {
    if (series.rises[step]! <= LEAST_RISE_DB || !isTop(series.rises, step)) continue;
    if (isPitched(series, series.frameAt(step))) yield step;
  }
}

function breaksOf(series: FineSeries): number[] {
  const found: number[] = [];
  for (let step = 25; step < series.steps - 25; step++) {
    if (!isTop(series.breaks, step) || !isPitched(series, series.frameAt(step))) continue;
    const peakDb = greatest(series.levels, step - PEAK_ABOUT, step + PEAK_ABOUT);
    if (series.breaks[step]! - peakDb > LEAST_BREAK_DB) found.push(step);
  }
  return found;
}

/** Steps at which the pitch of the next 60 ms lies elsewhere than that of the last. */
function leapsOf({ cents, stepSec }: FineSeries, { firstSec, hopSec }: PitchTrack): number[] {
  const ways = new Float64Array(cents.length);
  const row = new Float64Array(LEAP_FRAMES);
  const middleOf = (from: number): number => {
    let count = 0;
    for (let n = from; n < from + LEAP_FRAMES; n++) if (!Number.isNaN(cents[n]!)) row[count++] = cents[n]!;
    sortRow(row, count);
    return count === 0 ? Number.NaN : row[count >> 1]!;
  };
  const middles = new Float64Array(cents.length).fill(Number.NaN);
  for (let n = 0; n + LEAP_FRAMES <= cents.length; n++) middles[n] = middleOf(n);
  for (let n = LEAP_FRAMES; n < cents.length; n++) {
    const way = Math.abs(middles[n]! - middles[n - LEAP_FRAMES]!);
    if (way > LEAP_CENTS) ways[n] = way;
  }
  const found: number[] = [];
  for (let n = LEAP_FRAMES; n < cents.length - LEAP_FRAMES; n++) {
    if (ways[n]! <= LEAP_CENTS || greatest(ways, n - 4, n + 4) > ways[n]!) continue;
    const step = Math.round((firstSec + (n - 0.5) * hopSec) / stepSec);
    if (found.every((place) => Math.abs(place - step) >= BESIDE)) found.push(step);
  }
  return found;
}
