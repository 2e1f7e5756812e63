/** Places at which a note may begin, and how likely: core/pitch/begins.ts, which says where its numbers come from. */

import { claim, room, tell } from './room';
import { at, greatest, isNumber, put } from './rows';
import {
  bright, breaks, cents, firstSec, frameAt, frames, hopSec, levels, makeSeries, planSeries, rises, stepSec, steps, work,
} from './series';
import { BRIGHTER, DIP, IS_OTHER, planSigns, RISE, SIGNS, signsAt, SWING } from './signs';

const APART: i32 = 15;
const BESIDE: i32 = 20;
const ENDS: i32 = 25;
const LEAST_RISE_DB: f64 = 1;
const LEAST_SAME_RISE: f64 = 0.25;
const DEEP_DIP: f64 = 7.0 / 6.0;
const CLEARLY_BRIGHTER: f64 = 0.8 / 3.0;
const BRIGHT_DIP: f64 = 1.8;
const LEAST_BREAK_DB: f64 = -25;
const PEAK_ABOUT: i32 = 40;
const LEAP_CENTS: f64 = 60;
const LEAP_FRAMES: i32 = 6;

/** The caller writes what the signs weigh, a base and each sign: where the pitch stays, then where it goes to another note. */
let weights: usize = 0;
let signs: usize = 0;
/** Steps, whole numbers: first those of rises, then of breaks, then of leaps, each in time order. */
let places: usize = 0;
let count: i32 = 0;
let risesEnd: i32 = 0;
let breaksEnd: i32 = 0;
/** 1 for the steps near a place. */
let near: usize = 0;
/** How likely a note begins at each place, nats. */
let scores: usize = 0;

/** Lays out an instance that does nothing else. Gives the address of the table that begin-places.ts reads; 0 where there is not enough memory. */
export function planBegins(stepCount: i32, frameCount: i32): usize {
  const table = room(64);
  planSeries(stepCount, frameCount);
  planSigns();
  weights = room(256);
  signs = room(128);
  near = room(<usize>steps);
  const most = <usize>(steps + frames);
  places = room(most << 2);
  scores = room(most << 3);
  if (!claim()) return 0;
  tell(table, levels, bright, breaks, cents);
  tell(table + 16, weights, places, scores, 0);
  return table;
}

/** Fills steps and scores of the places in time order; gives how many. To be called once. */
export function findBegins(ofStepSec: f64, ofFirstSec: f64, ofHopSec: f64, rateHz: f64): i32 {
  makeSeries(ofStepSec, ofFirstSec, ofHopSec, rateHz);
  takeRises();
  risesEnd = count;
  takeBreaks();
  breaksEnd = count;
  takeLeaps();
  sortPlaces();
  for (let n = 0; n < count; n++) {
    signsAt(placeAt(n), signs);
    put(scores, n, score());
  }
  return count;
}

/** How likely a note begins, nats, 0 as likely as not. */
function score(): f64 {
  const isOther = at(signs, IS_OTHER) == 1;
  // Where the pitch stays, only a level that rises somewhere can begin a note; ends, too, repeat badly.
  if (!isOther && at(signs, RISE) < LEAST_SAME_RISE) return -Infinity;
  const row = isOther ? weights + 128 : weights;
  let sum = at(row, 0);
  for (let n = 0; n < SIGNS; n++) sum += at(row, n + 1) * at(signs, n);
  const isBrightDip = !isOther && at(signs, DIP) > DEEP_DIP && at(signs, BRIGHTER) > CLEARLY_BRIGHTER;
  return isBrightDip ? sum + BRIGHT_DIP * at(signs, SWING) : sum;
}

// @ts-ignore: decorator
@inline function placeAt(n: i32): i32 { return load<i32>(places + (<usize>n << 2)); }

function keep(step: i32): void {
  store<i32>(places + (<usize>count << 2), step);
  count++;
}

/** Marks the steps near the places from the nth on. */
function mark(n: i32): void {
  for (; n < count; n++) {
    const from = max(0, placeAt(n) - BESIDE + 1);
    const to = min(steps, max(0, placeAt(n) + BESIDE));
    if (to > from) memory.fill(near + <usize>from, 1, <usize>(to - from));
  }
}

/** Whether none of the first `known` places, which are marked, is near. */
function isFree(step: i32, known: i32): bool {
  if (step >= 0 && step < steps) return load<u8>(near + <usize>step) == 0;
  for (let n = 0; n < known; n++) if (abs(placeAt(n) - step) < BESIDE) return false;
  return true;
}

/** Whether there is a pitch from 30 ms before a step to 60 ms after. */
function isPitched(step: i32): bool {
  const frame = frameAt(step);
  for (let n = max(0, frame - 3); n <= min(frames - 1, frame + 6); n++) if (isNumber(at(cents, n))) return true;
  return false;
}

function isTop(row: usize, step: i32): bool {
  const here = at(row, step);
  for (let n = max(0, step - APART); n <= min(steps - 1, step + APART); n++) if (at(row, n) > here) return false;
  return true;
}

function takeRises(): void {
  for (let step = ENDS; step < steps - ENDS; step++) {
    if (at(rises, step) > LEAST_RISE_DB && isTop(rises, step) && isPitched(step)) keep(step);
  }
  mark(0);
}

function takeBreaks(): void {
  for (let step = ENDS; step < steps - ENDS; step++) {
    if (!isTop(breaks, step) || !isPitched(step)) continue;
    const peakDb = greatest(levels, steps, step - PEAK_ABOUT, step + PEAK_ABOUT);
    if (at(breaks, step) - peakDb > LEAST_BREAK_DB && isFree(step, risesEnd)) keep(step);
  }
  mark(risesEnd);
}

/** Median of the frames from one on that have a pitch: the upper of two. */
function middleOf(from: i32): f64 {
  let pitched = 0;
  for (let n = from; n < from + LEAP_FRAMES; n++) {
    if (!isNumber(at(cents, n))) continue;
    // Sorted as it comes.
    let place = pitched;
    for (; place > 0 && at(signs, place - 1) > at(cents, n); place--) put(signs, place, at(signs, place - 1));
    put(signs, place, at(cents, n));
    pitched++;
  }
  return pitched == 0 ? NaN : at(signs, pitched >> 1);
}

/** Steps at which the pitch of the next 60 ms lies elsewhere than that of the last. */
function takeLeaps(): void {
  const ways = work;
  memory.fill(ways, 0, <usize>frames << 3);
  for (let n = LEAP_FRAMES; n + LEAP_FRAMES <= frames; n++) {
    const way = abs(middleOf(n) - middleOf(n - LEAP_FRAMES));
    if (way > LEAP_CENTS) put(ways, n, way);
  }
  let last = -BESIDE;
  for (let n = LEAP_FRAMES; n < frames - LEAP_FRAMES; n++) {
    if (at(ways, n) <= LEAP_CENTS || greatest(ways, frames, n - 4, n + 4) > at(ways, n)) continue;
    const step = <i32>floor((firstSec + (<f64>n - 0.5) * hopSec) / stepSec + 0.5);
    if (step - last < BESIDE) continue;
    last = step;
    if (isFree(step, breaksEnd)) keep(step);
  }
}

/** Rises, breaks and leaps become one row in time order. */
function sortPlaces(): void {
  let rise = 0;
  let stop = risesEnd;
  let leap = breaksEnd;
  for (let n = 0; n < count; n++) {
    const one = rise < risesEnd ? placeAt(rise) : i32.MAX_VALUE;
    const two = stop < breaksEnd ? placeAt(stop) : i32.MAX_VALUE;
    const three = leap < count ? placeAt(leap) : i32.MAX_VALUE;
    const next = min(one, min(two, three));
    if (next == one) rise++;
    else if (next == two) stop++;
    else leap++;
    store<i32>(work + (<usize>n << 2), next);
  }
  memory.copy(places, work, <usize>count << 2);
}
