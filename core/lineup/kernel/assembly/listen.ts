/**
 * Listening as ../../plain-hearing.ts does it, block by block: levels of ticks, a slow copy, and of each frame of it the steps of its lines. The
 * same sums in the same order, so that the results are the same to the last bit.
 */

import { allocate } from '../../../signal/kernel/assembly/memory';
import { bytesFor, forward, planAt, samplesAt, spectrumAt } from '../../../signal/fft/kernel/assembly/transform';
import { addFrame } from './steps';
import { addLevels, slowDown } from './sums';

/** Samples of the slow copy in a frame. */
const WINDOW = 512;
/** Samples that are slowed down at once, and that are handed over at once. */
const CHUNK = 4096;
const LONGEST = 16384;
/** Ticks and frames that there is room for: those of 16384 samples at 4 kHz, and what may have waited before. */
const MOST_TICKS = 8192;
const MOST_FRAMES = 512;

let input: usize = 0;
let taps: usize = 0;
let window: usize = 0;
let levels: usize = 0;
let steps: usize = 0;
let counts: usize = 0;
let peaks: usize = 0;
let sums: usize = 0;
let line: usize = 0;
let slowLine: usize = 0;

let rateHz: f64 = 0;
let tickSec: f64 = 0;
let heard: f64 = 0;
let ticks: f64 = 0;
let tickFrom: f64 = 0;
let tickTo: f64 = 0;
let waitingTicks = 0;

let factor = 0;
let half = 0;
let filled = 0;
let next = 0;

let slowRateHz: f64 = 0;
let frameSec: f64 = 0;
let firstLine = 0;
let lines = 0;
let scale: f64 = 0;
let zero: f64 = 0;
let slowFrom = 0;
let slowFilled = 0;
let frameFrom = 0;
let frames: f64 = 0;
let waitingFrames = 0;

/** To be called once: makes room for everything, and begins before the first sample. Then the tables must be filled in. */
export function begin(
  ofRateHz: f64, ofTickSec: f64, ofFactor: i32, ofHalf: i32, ofFrameSec: f64, ofFirstLine: i32, ofLines: i32, ofScale: f64, ofZero: f64,
): void {
  rateHz = ofRateHz;
  tickSec = ofTickSec;
  factor = ofFactor;
  half = ofHalf;
  slowRateHz = rateHz / <f64>factor;
  frameSec = ofFrameSec;
  firstLine = ofFirstLine;
  lines = ofLines;
  scale = ofScale;
  zero = ofZero;
  tickTo = max<f64>(1, Math.round(tickSec * rateHz));
  // The line begins with `half` frames of silence, the slow one with half a window.
  filled = half;
  next = half;
  slowFrom = -WINDOW / 2;
  slowFilled = WINDOW / 2;
  frameFrom = -WINDOW / 2;
  // Samples are widened four at a time.
  input = allocate(4 * (LONGEST + 4));
  line = allocate(8 * (2 * half + factor + CHUNK + 4));
  slowLine = allocate(8 * (WINDOW + 2 * CHUNK));
  taps = allocate(8 * (half + 1));
  window = allocate(8 * WINDOW);
  levels = allocate(8 * MOST_TICKS);
  steps = allocate(MOST_FRAMES * lines);
  counts = allocate(4 * 256 * lines);
  peaks = allocate(4 * 256);
  sums = allocate(24);
  planAt(allocate(bytesFor(WINDOW)), WINDOW);
}

export function inputAt(): usize {
  return input;
}

/** Of the slow copy: the one in the middle, then the pairs. */
export function tapsAt(): usize {
  return taps;
}

export function windowAt(): usize {
  return window;
}

/** Of each tick that waits: mean square of the sound, and of its steps, single precision. */
export function levelsAt(): usize {
  return levels;
}

/** Of each frame that waits: the step of each line, a byte each. */
export function stepsAt(): usize {
  return steps;
}

/** How often each line had each step. */
export function countsAt(): usize {
  return counts;
}

/** How often the loudest line of a frame had each step. */
export function peaksAt(): usize {
  return peaks;
}

export function ticksWaiting(): i32 {
  return waitingTicks;
}

export function framesWaiting(): i32 {
  return waitingFrames;
}

/** Those that waited were taken. */
export function takeTicks(): void {
  waitingTicks = 0;
}

export function takeFrames(): void {
  waitingFrames = 0;
}

/** Listens to the next `count` samples, LONGEST at most. */
export function listen(count: i32): void {
  for (let from = 0; from < count; ) {
    const to = min(count, from + <i32>min<f64>(LONGEST, tickTo - heard));
    addLevels(input + (<usize>from << 2), to - from, sums);
    heard += <f64>(to - from);
    from = to;
    if (heard == tickTo) endTick();
  }
  for (let from = 0; from < count; from += CHUNK) listenSlowly(input + (<usize>from << 2), min(CHUNK, count - from));
}

function endTick(): void {
  const size = tickTo - tickFrom;
  const at = levels + (<usize>waitingTicks << 3);
  store<f32>(at, <f32>(load<f64>(sums) / size));
  store<f32>(at, <f32>(load<f64>(sums, 8) / size), 4);
  store<f64>(sums, 0);
  store<f64>(sums, 0, 8);
  waitingTicks++;
  ticks += 1;
  tickFrom = tickTo;
  tickTo = max<f64>(tickFrom + 1, Math.round((ticks + 1) * tickSec * rateHz));
}

function listenSlowly(samples: usize, count: i32): void {
  const end = line + (<usize>filled << 3);
  filled += count;
  const last = line + (<usize>(filled - half) << 3);
  const at = line + (<usize>next << 3);
  const made = slowDown(samples, count, end, at, last, taps, half, factor, slowLine + (<usize>slowFilled << 3));
  const after = next + made * factor;
  const keepFrom = min(after - half, filled);
  memory.copy(line, line + (<usize>keepFrom << 3), <usize>(filled - keepFrom) << 3);
  filled -= keepFrom;
  next = after - keepFrom;
  slowFilled += made;
  while (frameFrom + WINDOW <= slowFrom + slowFilled) addNextFrame();
  const drop = min(frameFrom - slowFrom, slowFilled);
  memory.copy(slowLine, slowLine + (<usize>drop << 3), <usize>(slowFilled - drop) << 3);
  slowFrom += drop;
  slowFilled -= drop;
}

function addNextFrame(): void {
  const from = slowLine + (<usize>(frameFrom - slowFrom) << 3);
  const to = samplesAt();
  for (let at: usize = 0; at < 8 * WINDOW; at += 16) {
    v128.store(to + at, f64x2.mul(v128.load(from + at), v128.load(window + at)));
  }
  forward();
  const re = spectrumAt() + (<usize>firstLine << 3);
  // Imaginary parts lie a plane of WINDOW / 2 numbers and 64 bytes behind.
  const im = re + 4 * WINDOW + 64;
  const peak = addFrame(re, im, lines, scale, zero, steps + <usize>(waitingFrames * lines), counts);
  const peakAt = peaks + (<usize>peak << 2);
  store<u32>(peakAt, load<u32>(peakAt) + 1);
  waitingFrames++;
  frames += 1;
  frameFrom = <i32>Math.round(frames * frameSec * slowRateHz) - WINDOW / 2;
}
