/** The longer window that judges low notes, as core/pitch/slow-window.ts says; its transform is core/signal/fft's. */

import { forward, plan as planFft, samplesAt, spectrumAt, splitsAt, twiddlesAt } from '../../../signal/fft/kernel/assembly/index';
import { forgetSlow, slow, slowFilled, SLOW_STEP } from './ear';
import { hannPowers } from './look';
import { HOLLOW, OWN_BYTES, refine, STANDING, useSpectra, useWindows } from './refine';
import { goOnAt, room, tell } from './room';

const WHOLE_STANDING: f64 = 5;

let size: i32 = 0;
/** Bytes from the real parts of a spectrum to the imaginary ones, here and where the transform leaves them. */
let plane: usize = 0;
let hop: i32 = 0;
let binHz: f64 = 1;
let hopSec: f64 = 1;
/** The rows' length, and how many numbers may come at once. */
let rowRoom: i32 = 0;
let mostMore: i32 = 0;
let hann: usize = 0;
let spectra: usize = 0;
let powers: usize = 0;
let own: usize = 0;
let place: usize = 0;
/** This frame's window begins here in the slow row, that of the frame before a hop earlier. */
let from: i32 = 0;
let whole: f64 = 0;
let isLooked: bool = false;
let isBeforeLooked: bool = false;

/** To be called before all other rooms are laid out. False when there is not enough memory. */
export function planSlow(windowSize: i32, hopFrames: i32, rateHz: f64, slowFrames: i32, mostAtOnce: i32): bool {
  size = windowSize;
  plane = (<usize>size << 2) + 64;
  hop = hopFrames;
  const slowHz = rateHz / <f64>SLOW_STEP;
  binHz = slowHz / <f64>size;
  hopSec = <f64>hop / slowHz;
  rowRoom = slowFrames;
  mostMore = mostAtOnce;
  from = hop;
  const behind = planFft(size);
  if (behind == 0) return false;
  goOnAt(behind);
  hann = room(<usize>size << 3);
  spectra = room(4 * plane);
  powers = room(plane);
  own = room(OWN_BYTES);
  return true;
}

/** What the caller writes: the transform's tables, and a Hann window. */
export function tellSlow(table: usize): void {
  tell(table, twiddlesAt(), splitsAt(), hann, 0);
}

/** Looks at this frame, before `refineSlow`. */
export function beginSlow(): void {
  if (!isBeforeLooked) lookFrom(from - hop);
  const before = spectra + place;
  whole = lookFrom(from);
  useWindows(own, (size >> 1) + 1, binHz, hopSec);
  useSpectra(spectra + place, before, plane, powers, false);
  isLooked = true;
}

export function refineSlow(coarseHz: f64, record: usize): void {
  refine(coarseHz, whole, record);
  if (load<f64>(record, STANDING) >= WHOLE_STANDING) store<f64>(record, 0, HOLLOW);
}

/** Goes on to the next frame, whether or not this one was looked at. */
export function nextSlow(): void {
  isBeforeLooked = isLooked;
  isLooked = false;
  from += hop;
}

/** Drops what no window needs any more where there may be no room for what comes next. */
export function makeSlowRoom(): void {
  const kept = from - hop;
  if (kept == 0 || slowFilled + mostMore < rowRoom) return;
  forgetSlow(kept);
  from -= kept;
}

/** Spectrum of a window, to the place where that before the last lay; gives the sum of its bins' powers. */
function lookFrom(begin: i32): f64 {
  const window = slow + (<usize>begin << 3);
  const bytes = <usize>size << 3;
  let weighted: f64 = 0;
  for (let at: usize = 0; at < bytes; at += 8) {
    const value = load<f64>(window + at) * load<f64>(hann + at);
    weighted += value * value;
  }
  memory.copy(samplesAt(), window, bytes);
  forward();
  place = place == 0 ? 2 * plane : 0;
  const re = spectra + place;
  memory.copy(re, spectrumAt(), 2 * plane);
  hannPowers(re, re + plane, powers, bytes >> 1);
  return 0.5 * <f64>size * weighted + 1e-20;
}
