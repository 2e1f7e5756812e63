/** The ear: samples come in, are heard (hear.ts), and windows of what was heard are looked at (look.ts). Addresses are bytes in memory. */

import { filter, symmetricSum, widen } from './hear';
import { BINS_BYTES, DOUBLES, findDips, look, SINGLES } from './look';
import { claim, room, tell } from './room';

/** Input frames at once. */
export const PIECE: i32 = 4096;
/** Every fifth number heard goes into the slow row. */
export const SLOW_STEP: i32 = 5;
/** Most steps that end in one call: the shortest has 16 frames. */
const MOST_STEPS: i32 = 257;

let input: usize = 0;
/** Input, and numbers heard, that still weigh in what comes; double. */
let line: usize = 0;
let lineCount: i32 = 0;
let slowLine: usize = 0;
let slowLineCount: i32 = 0;
let step: i32 = 0;
let half: i32 = 0;
let slowHalf: i32 = 0;
let taps: usize = 0;
let slowTaps: usize = 0;
let coefficients: usize = 0;
/** What is above the rumble, single, up to `filled`; every fifth of it behind a low pass, double, up to `slowFilled`. */
export let heard: usize = 0;
export let filled: i32 = 0;
export let slow: usize = 0;
export let slowFilled: i32 = 0;
export let stepFrames: i32 = 0;
export let stepPowers: usize = 0;
export let brightPowers: usize = 0;
export let stepsEnded: i32 = 0;
let hann: usize = 0;
let twiddles: usize = 0;
let shortTwiddles: usize = 0;
let splits: usize = 0;
export let spectra: usize = 0;
export let powers: usize = 0;
let row: usize = 0;
let shortest: i32 = 0;
let longest: i32 = 0;
let halfTaps: usize = 0;
export let dips: usize = 0;
export let dipsFound: i32 = 0;
let work: usize = 0;

/**
 * Lays the memory out. ownHalfTaps, slowHalfTaps: taps beside the middle one, multiples of four; firstHeard, firstSlow: zeros that the rows
 * begin with; shortestLag, longestLag: of the dips that are looked for. Gives the address of the table that `addresses` of kernel-ear.ts reads; 0 when there is not enough memory.
 */
export function plan(
  ownStep: i32, ownHalfTaps: i32, slowHalfTaps: i32, ownStepFrames: i32,
  heardFrames: i32, firstHeard: i32, slowFrames: i32, firstSlow: i32, shortestLag: i32, longestLag: i32,
): usize {
  step = ownStep;
  half = ownHalfTaps;
  slowHalf = slowHalfTaps;
  stepFrames = ownStepFrames;
  filled = firstHeard;
  slowFilled = firstSlow;
  shortest = shortestLag;
  longest = longestLag;
  lineCount = half;
  slowLineCount = slowHalf;
  const table = room(128);
  input = room(<usize>PIECE << 2);
  taps = room(<usize>(half + 1) << 3);
  slowTaps = room(<usize>(slowHalf + 1) << 3);
  coefficients = room(64);
  hann = room(DOUBLES);
  twiddles = room(2 * SINGLES);
  shortTwiddles = room(SINGLES);
  splits = room(SINGLES);
  heard = room(<usize>heardFrames << 2);
  slow = room(<usize>slowFrames << 3);
  stepPowers = room(<usize>MOST_STEPS << 3);
  brightPowers = room(<usize>MOST_STEPS << 3);
  spectra = room(4 * BINS_BYTES);
  powers = room(BINS_BYTES);
  row = room(BINS_BYTES);
  halfTaps = room(64);
  dips = room(BINS_BYTES);
  line = room(<usize>(PIECE + 2 * half + step) << 3);
  slowLine = room(<usize>(PIECE + 2 * slowHalf + SLOW_STEP) << 3);
  work = room(2 * DOUBLES + BINS_BYTES + SINGLES);
  if (!claim()) return 0;
  tell(table, input, taps, slowTaps, coefficients);
  tell(table + 16, hann, twiddles, shortTwiddles, splits);
  tell(table + 32, heard, slow, stepPowers, brightPowers);
  tell(table + 48, spectra, powers, row, halfTaps);
  tell(table + 64, dips, 0, 0, 0);
  return table;
}

/** How many steps ended in the last call; their powers lie from the rows' beginnings on. */
export function steps(): i32 {
  return stepsEnded;
}

export function slowCount(): i32 {
  return slowFilled;
}

/** Takes so many input frames; gives how many more are heard. */
export function add(count: i32): i32 {
  widen(input, line + (<usize>lineCount << 3), count);
  lineCount += count;
  return drain();
}

/** Gives what waited for what comes after the end. */
export function flush(): i32 {
  memory.fill(line + (<usize>lineCount << 3), 0, <usize>half << 3);
  lineCount += half;
  return drain();
}

/** So many zeros at the rate of what is heard; isCounted: whether steps are made of them. */
export function rest(count: i32, isCounted: bool): i32 {
  memory.fill(heard + (<usize>filled << 2), 0, <usize>count << 2);
  hear(count, isCounted);
  return count;
}

/** Drops the oldest numbers heard. */
export function forget(count: i32): void {
  filled -= count;
  memory.copy(heard, heard + (<usize>count << 2), <usize>filled << 2);
}

export function forgetSlow(count: i32): void {
  slowFilled -= count;
  memory.copy(slow, slow + (<usize>count << 3), <usize>slowFilled << 3);
}

/** Looks at the window that begins at a number heard; its spectrum goes to the first or second place. Gives the weighted power. */
export function lookAt(begin: i32, place: i32): f64 {
  const re = spectra + <usize>place * 2 * BINS_BYTES;
  const window = heard + (<usize>begin << 2);
  const weighted = look(window, hann, twiddles, shortTwiddles, splits, re, re + BINS_BYTES, powers, row, work);
  dipsFound = findDips(row, shortest, longest, halfTaps, dips);
  return weighted;
}

/** How many dips the last window had that lie deeper than all before them. */
export function dipCount(): i32 {
  return dipsFound;
}

function drain(): i32 {
  const from = heard + (<usize>filled << 2);
  let to = from;
  let at = 0;
  for (; at + 2 * half < lineCount; at += step, to += 4) {
    store<f32>(to, <f32>symmetricSum(taps, line + (<usize>(at + half) << 3), half));
  }
  lineCount -= at;
  memory.copy(line, line + (<usize>at << 3), <usize>lineCount << 3);
  const count = <i32>((to - from) >> 2);
  hear(count, true);
  return count;
}

/** What stands behind the last number heard is heard now. */
function hear(count: i32, isCounted: bool): void {
  const from = heard + (<usize>filled << 2);
  stepsEnded = filter(from, count, coefficients, isCounted ? stepFrames : 0, stepPowers, brightPowers);
  filled += count;
  widen(from, slowLine + (<usize>slowLineCount << 3), count);
  slowLineCount += count;
  let at = 0;
  for (; at + 2 * slowHalf < slowLineCount; at += SLOW_STEP) {
    const sum = symmetricSum(slowTaps, slowLine + (<usize>(at + slowHalf) << 3), slowHalf);
    store<f64>(slow + (<usize>slowFilled << 3), sum);
    slowFilled++;
  }
  slowLineCount -= at;
  memory.copy(slowLine, slowLine + (<usize>at << 3), <usize>slowLineCount << 3);
}
