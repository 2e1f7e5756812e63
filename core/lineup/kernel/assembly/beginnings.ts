/**
 * What rises along a short stretch of sound, as ../../plain-rise-row.ts has it: the same sums in the same order, so that the results are the
 * same to the last bit. Addresses are bytes in memory.
 */

import { allocate } from '../../../signal/kernel/assembly/memory';
import { bytesFor, forward, planAt, samplesAt, spectrumAt } from '../../../signal/fft/kernel/assembly/transform';

/** Pairs of bins whose quotients are multiplied before their logarithm is taken. */
const PAIRS = 16;

let half = 0;
let firstBin = 0;
let bins = 0;
let groups = 0;
/** Bytes of a frame's levels: a bin of nothing before them, and one or two after. */
let width: usize = 0;
let heard: usize = 0;
let window: usize = 0;
let levels: usize = 0;
let quotients: usize = 0;

/**
 * To be called once: makes room for frames of `size` samples, of which the bins from ofFirstBin on count, for so many frames and so many
 * samples of sound. Then the tables must be filled in. 0 where there is no memory.
 */
export function planFrames(size: i32, ofFirstBin: i32, ofBins: i32, mostFrames: i32, mostHeard: i32): i32 {
  half = size >> 1;
  firstBin = ofFirstBin;
  bins = ofBins;
  groups = ((ofBins + 1) / 2 + PAIRS - 1) / PAIRS;
  width = (<usize>(ofBins + 4) & ~1) << 3;
  const transform = allocate(bytesFor(size));
  heard = allocate(8 * mostHeard);
  window = allocate(8 * size);
  levels = allocate(<i32>width * mostFrames);
  quotients = allocate(8 * 3 * groups * mostFrames);
  if (transform == 0 || heard == 0 || window == 0 || levels == 0 || quotients == 0) return 0;
  planAt(transform, size);
  return 1;
}

export function heardAt(): usize {
  return heard;
}

export function frameWindowAt(): usize {
  return window;
}

/** Magnitudes of the first frame, from the first bin on. */
export function magnitudesAt(): usize {
  return levels + 8;
}

/** Frame by frame and floor by floor as many quotients as `quotientGroups`. */
export function quotientsAt(): usize {
  return quotients;
}

export function quotientGroups(): i32 {
  return groups;
}

/** Magnitudes, times `scale`, of frames around every `hop`th sample of what was heard, from sample `side` on. */
export function hearFrames(side: i32, hop: f64, frames: i32, scale: f64): void {
  const scales = f64x2.splat(scale);
  let to = levels;
  for (let n = 0; n < frames; n++, to += width) {
    let from = heard + (<usize>(side + <i32>floor<f64>(<f64>n * hop + 0.5) - half) << 3);
    let by = window;
    let at = samplesAt();
    for (const end = at + (<usize>half << 4); at < end; at += 32, from += 32, by += 32) {
      v128.store(at, f64x2.mul(v128.load(from), v128.load(by)));
      v128.store(at, f64x2.mul(v128.load(from, 16), v128.load(by, 16)), 16);
    }
    forward();
    let re = spectrumAt() + (<usize>firstBin << 3);
    let im = re + (<usize>half << 3) + 64;
    let level = to + 8;
    for (const end = level + (<usize>bins << 3); level < end; level += 16, re += 16, im += 16) {
      const x = v128.load(re);
      const y = v128.load(im);
      v128.store(level, f64x2.mul(f64x2.sqrt(f64x2.add(f64x2.mul(x, x), f64x2.mul(y, y))), scales));
    }
    // The pairs may have gone one bin too far.
    store<f64>(to + (<usize>(bins + 1) << 3), 0);
  }
}

/**
 * Quotients of what rises in the frames from `gap` on over the loudest of three bins `gap` frames before, where it is still there `hold` frames
 * later: of magnitude and floor over magnitude and floor, for each of three floors, multiplied over groups of bins.
 */
export function riseFrames(frames: i32, gap: i32, hold: i32, low: f64, middle: f64, high: f64): void {
  const lows = f64x2.splat(low);
  const middles = f64x2.splat(middle);
  const highs = f64x2.splat(high);
  const pairs = (bins + 1) >> 1;
  for (let n = gap; n < frames; n++) {
    let before = levels + <usize>(n - gap) * width;
    let here = levels + <usize>n * width + 8;
    let later = levels + <usize>min(frames - 1, n + hold) * width + 8;
    let to = quotients + (<usize>(3 * groups * n) << 3);
    for (let pair = 0; pair < pairs; to += 8) {
      let topLow = f64x2.splat(1);
      let topMiddle = f64x2.splat(1);
      let topHigh = f64x2.splat(1);
      let underLow = f64x2.splat(1);
      let underMiddle = f64x2.splat(1);
      let underHigh = f64x2.splat(1);
      for (const end = min(pairs, pair + PAIRS); pair < end; pair++, before += 16, here += 16, later += 16) {
        const most = f64x2.max(f64x2.max(v128.load(before), v128.load(before, 16)), v128.load(before, 8));
        const top = f64x2.max(f64x2.min(v128.load(here), v128.load(later)), most);
        topLow = f64x2.mul(topLow, f64x2.add(top, lows));
        underLow = f64x2.mul(underLow, f64x2.add(most, lows));
        topMiddle = f64x2.mul(topMiddle, f64x2.add(top, middles));
        underMiddle = f64x2.mul(underMiddle, f64x2.add(most, middles));
        topHigh = f64x2.mul(topHigh, f64x2.add(top, highs));
        underHigh = f64x2.mul(underHigh, f64x2.add(most, highs));
      }
      store<f64>(to, quotient(topLow, underLow));
      store<f64>(to + (<usize>groups << 3), quotient(topMiddle, underMiddle));
      store<f64>(to + (<usize>groups << 4), quotient(topHigh, underHigh));
    }
  }
}

// @ts-ignore: decorator
@inline function quotient(top: v128, under: v128): f64 {
  const both = f64x2.div(top, under);
  return f64x2.extract_lane(both, 0) * f64x2.extract_lane(both, 1);
}
