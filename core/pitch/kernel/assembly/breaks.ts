/**
 * How little a note repeats, step by step, at the pitch that is settled: the sums of core/pitch/own-breaks.ts in the same order. The
 * samples are those of the ear's row.
 */

import { MOST_OPEN } from './path';
import { room, tell } from './room';

/** A sample between two others is told by eight about it; so finely is the place between two samples divided. */
const TAPS: i32 = 8;
const PLACES: i32 = 32;
const ANY_PERIOD: f64 = 60;
const MOST_LEAD: i32 = 200;
const LOWEST_HZ: f64 = 20;
const QUIET: f64 = 1e-10;
export const STEPS_PER_HOP: i32 = 5;
/** Frames that are settled, or may be, before their steps are told, and a few more. */
export const MOST_WAITING: i32 = MOST_OPEN + MOST_LEAD + 256;

/** Rows of taps, a place each, which the caller writes. */
let taps: usize = 0;
let samplesHz: f64 = 1;
let stepFrames: i32 = 1;
let hopSec: f64 = 1;
let firstSec: f64 = 0;
/** Powers of the steps that wait; the first is the step to be told next. */
let powers: usize = 0;
let waiting: i32 = 0;
let step: i32 = 0;
/** Periods of the settled frames, from `firstFrame` on, samples; 0: none was known yet. */
let periods: usize = 0;
let periodCount: i32 = 0;
let firstFrame: i32 = 0;
let lead: i32 = 0;
let lastPeriod: f64 = 0;
/** What the last call told. */
let breaks: usize = 0;
export let told: i32 = 0;

export function planBreaks(rateHz: f64, framesOfStep: i32): void {
  samplesHz = rateHz;
  stepFrames = framesOfStep;
  const hop = STEPS_PER_HOP * stepFrames;
  hopSec = <f64>hop / samplesHz;
  firstSec = -<f64>hop / 2 / samplesHz;
  taps = room(<usize>((PLACES + 1) * TAPS) << 3);
  periods = room(<usize>(2 * MOST_WAITING) << 3);
  powers = room(<usize>(STEPS_PER_HOP * MOST_WAITING) << 3);
  breaks = room(<usize>(STEPS_PER_HOP * MOST_WAITING) << 3);
}

/** What the caller writes, and reads. */
export function tellBreaks(table: usize): void {
  tell(table, taps, breaks, breaks + (<usize>(STEPS_PER_HOP * MOST_WAITING) << 3), 0);
}

/** Takes the powers of steps that ended. */
export function addSteps(from: usize, count: i32): void {
  memory.copy(powers + (<usize>waiting << 3), from, <usize>count << 3);
  waiting += count;
}

/** Takes pitches of the next frames, Hz; NaN where there is none. */
export function settlePeriods(hz: usize, count: i32): void {
  for (const end = hz + (<usize>count << 3); hz < end; hz += 8) {
    const one = load<f64>(hz);
    if (one == one) {
      lastPeriod = samplesHz / one;
      settleLead(lead, lastPeriod);
    } else if (lastPeriod == 0) {
      if (++lead > MOST_LEAD) settleLead(1, ANY_PERIOD);
      continue;
    }
    keepPeriod(lastPeriod);
  }
}

function keepPeriod(period: f64): void {
  store<f64>(periods + (<usize>periodCount << 3), period);
  periodCount++;
}

function settleLead(count: i32, period: f64): void {
  for (let n = 0; n < count; n++) keepPeriod(period);
  lead -= count;
}

/** The first sample that the steps to come still need. */
export function firstNeeded(): i32 {
  return max(0, step * stepFrames - <i32>ceil(samplesHz / LOWEST_HZ) - TAPS);
}

/** Tells the steps whose frame is settled. samples: address of the take's first; isEnd: no frame comes any more. */
export function tellSteps(samples: usize, isEnd: bool): void {
  if (isEnd) settleLead(lead, ANY_PERIOD);
  const last = firstFrame + periodCount - 1;
  told = 0;
  let dropped = 0;
  for (; told < waiting; told++, step++) {
    const power = load<f64>(powers + (<usize>told << 3));
    const sec = ((<f64>step + 0.5) * <f64>stepFrames) / samplesHz;
    const frame = max(0, <i32>floor((sec - firstSec) / hopSec + 0.5));
    if (frame > last && !(isEnd && last >= firstFrame)) break;
    dropped = min(frame, last) - firstFrame;
    const period = load<f64>(periods + (<usize>dropped << 3));
    store<f64>(breaks + (<usize>told << 3), power < QUIET ? 0 : breakAt(samples, period));
  }
  periodCount -= dropped;
  firstFrame += dropped;
  memory.copy(periods, periods + (<usize>dropped << 3), <usize>periodCount << 3);
  waiting -= told;
  memory.copy(powers, powers + (<usize>told << 3), <usize>waiting << 3);
}

// @ts-ignore: decorator
@inline function two(at: usize): v128 { return f64x2.promote_low_f32x4(v128.load64_zero(at)); }

/** A few more samples than the step's own are read behind it. */
function breakAt(samples: usize, period: f64): f64 {
  const whole = <i32>floor(period);
  const row = taps + (<usize>(TAPS * <i32>floor((period - <f64>whole) * <f64>PLACES + 0.5)) << 3);
  const t0 = v128.load64_splat(row);
  const t1 = v128.load64_splat(row, 8);
  const t2 = v128.load64_splat(row, 16);
  const t3 = v128.load64_splat(row, 24);
  const t4 = v128.load64_splat(row, 32);
  const t5 = v128.load64_splat(row, 40);
  const t6 = v128.load64_splat(row, 48);
  const t7 = v128.load64_splat(row, 56);
  const from = max(whole + TAPS, step * stepFrames);
  let at = samples + (<usize>from << 2);
  const end = samples + (<usize>((step + 1) * stepFrames) << 2);
  const behind = <usize>(whole - (TAPS / 2 - 1)) << 2;
  let sum: f64 = 0;
  for (; at < end; at += 8) {
    const m = at - behind;
    const a = f64x2.add(f64x2.mul(t0, two(m)), f64x2.mul(t1, two(m - 4)));
    const b = f64x2.add(f64x2.add(a, f64x2.mul(t2, two(m - 8))), f64x2.mul(t3, two(m - 12)));
    const c = f64x2.add(f64x2.mul(t4, two(m - 16)), f64x2.mul(t5, two(m - 20)));
    const d = f64x2.add(f64x2.add(c, f64x2.mul(t6, two(m - 24))), f64x2.mul(t7, two(m - 28)));
    const off = f64x2.sub(two(at), f64x2.add(b, d));
    const squares = f64x2.mul(off, off);
    sum += f64x2.extract_lane(squares, 0);
    if (at + 4 < end) sum += f64x2.extract_lane(squares, 1);
  }
  return sum / <f64>(2 * stepFrames);
}
