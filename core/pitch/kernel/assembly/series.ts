/** A take step by step in the light of its pitch: the sums of core/pitch/fine-series.ts in the same order. */

import { log10, log2 } from './math';
import { room } from './room';
import { at, isNumber, put, valueAtRank } from './rows';

const HALF_RISE: i32 = 7;
const LEAST_HALF: i32 = 2;
/** Before the first pitch of a take, frames of the work rate: as in core/pitch/own-breaks.ts. */
const ANY_PERIOD: f64 = 60;

export let steps: i32 = 0;
export let frames: i32 = 0;
export let stepSec: f64 = 1;
export let firstSec: f64 = 0;
export let hopSec: f64 = 1;
let samplesHz: f64 = 1;
/** The caller writes powers; they become dB. */
export let levels: usize = 0;
export let bright: usize = 0;
export let breaks: usize = 0;
export let rises: usize = 0;
/** The caller writes Hz, NaN where there is no pitch; they become cents above A4 = 440 Hz. */
export let cents: usize = 0;
export let restDb: f64 = 0;
export let loudDb: f64 = 0;
/** Room for as many numbers as there are steps, and one. */
export let work: usize = 0;
let periods: usize = 0;
/** The frame that lies nearest to each step, and half of the steps that its values are taken over; whole numbers. */
let nearest: usize = 0;
let halves: usize = 0;

export function planSeries(stepCount: i32, frameCount: i32): void {
  steps = stepCount;
  frames = frameCount;
  const bytes = <usize>steps << 3;
  levels = room(bytes);
  bright = room(bytes);
  breaks = room(bytes);
  rises = room(bytes);
  work = room(bytes + 8);
  nearest = room(bytes >> 1);
  halves = room(bytes >> 1);
  cents = room(<usize>frames << 3);
  periods = room(<usize>frames << 3);
}

export function makeSeries(ofStepSec: f64, ofFirstSec: f64, ofHopSec: f64, rateHz: f64): void {
  stepSec = ofStepSec;
  firstSec = ofFirstSec;
  hopSec = ofHopSec;
  samplesHz = rateHz;
  readPitch();
  for (let step = 0; step < steps; step++) {
    const frame = nearestFrame(step);
    store<i32>(nearest + (<usize>step << 2), frame);
    const half = <i32>ceil((0.75 * at(periods, frame)) / (stepSec * samplesHz));
    store<i32>(halves + (<usize>step << 2), max(LEAST_HALF, half));
  }
  memory.copy(work, levels, <usize>steps << 3);
  loudDb = decibels(steps == 0 ? 0 : valueAtRank(work, steps, <i32>floor(0.95 * <f64>(steps - 1))));
  smooth(levels);
  smooth(bright);
  smooth(breaks);
  for (let step = 0; step < steps; step++) {
    const isInside = step >= HALF_RISE && step + HALF_RISE < steps;
    put(rises, step, isInside ? at(levels, step + HALF_RISE) - at(levels, step - HALF_RISE) : 0);
  }
  findRest();
}

/** Cents and periods; where there is no pitch, the period is that of the last one or the first to come. */
function readPitch(): void {
  let last = samplesHz / ANY_PERIOD;
  for (let n = 0; n < frames; n++) {
    if (!isNumber(at(cents, n))) continue;
    last = at(cents, n);
    break;
  }
  for (let n = 0; n < frames; n++) {
    const hz = at(cents, n);
    if (isNumber(hz)) last = hz;
    put(periods, n, samplesHz / last);
    put(cents, n, isNumber(hz) ? 1200 * log2(hz / 440) : hz);
  }
}

function nearestFrame(step: i32): i32 {
  const frame = <i32>floor(((<f64>step + 0.5) * stepSec - firstSec) / hopSec + 0.5);
  return max(0, min(frames - 1, frame));
}

/** The frame that lies nearest to a step of the take. */
export function frameAt(step: i32): i32 {
  return step >= 0 && step < steps ? load<i32>(nearest + (<usize>step << 2)) : nearestFrame(step);
}

/** Of a note's pitch, octaves above A4. */
export function octaveAt(step: i32): f64 {
  return log2(samplesHz / at(periods, frameAt(step)) / 440);
}

export function decibels(power: f64): f64 {
  return 10 * log10(power + 1e-14);
}

/** Powers become levels, each over the steps about it. */
function smooth(row: usize): void {
  put(work, 0, 0);
  for (let step = 0; step < steps; step++) put(work, step + 1, at(work, step) + at(row, step));
  for (let step = 0; step < steps; step++) {
    const half = load<i32>(halves + (<usize>step << 2));
    const from = max(0, step - half);
    const to = min(steps, step + half + 1);
    put(row, step, decibels((at(work, to) - at(work, from)) / <f64>(to - from)));
  }
}

/** What does not repeat of the pitched steps that repeat best. */
function findRest(): void {
  let count = 0;
  for (let step = 0; step < steps; step++) {
    if (!isNumber(at(cents, load<i32>(nearest + (<usize>step << 2))))) continue;
    put(work, count, at(breaks, step));
    count++;
  }
  restDb = count == 0 ? decibels(0) : valueAtRank(work, count, <i32>floor(0.1 * <f64>(count - 1)));
}
