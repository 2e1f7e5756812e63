/** What the tracker sees in one window: level, spectrum, powers of the Hann bins and YIN's difference function. */

import { PLANE, transformBoth, transformShort } from './fft';

/** Frames of a window, and the bytes that so many single or double numbers take. */
export const SIZE: i32 = 1024;
export const SINGLES: usize = 4096;
export const DOUBLES: usize = 8192;
const HALF: i32 = 512;
/** Bytes of a row of 513 double numbers. */
export const BINS_BYTES: usize = 4160;
/** Bytes from the dips' lags to their depths: 257 double numbers. */
export const DEPTHS_BEHIND: usize = 2056;
/** Sum of squares below which a window is made louder (2^40), so that the products of its spectra do not vanish in single precision. */
const QUIET: f64 = 1e-9;
const LOUDER: f32 = 1.099511627776e12;
/** The first half is transformed at most this much louder, 2^60. */
const MOST_RAISED: f64 = 1152921504606846976;

// @ts-ignore: decorator
@inline function reversed(a: v128): v128 { return v128.shuffle<f32>(a, a, 3, 2, 1, 0); }
// @ts-ignore: decorator
@inline function low(a: v128): v128 { return f64x2.promote_low_f32x4(a); }
// @ts-ignore: decorator
@inline function high(a: v128): v128 { return f64x2.promote_low_f32x4(v128.shuffle<f32>(a, a, 2, 3, 2, 3)); }
// @ts-ignore: decorator
@inline function lanesSum(a: v128): f64 { return f64x2.extract_lane(a, 0) + f64x2.extract_lane(a, 1); }

/** Sums of the squares of a window's first half and of its second. */
let firstPower: f64 = 0;
let secondPower: f64 = 0;

/** Sum of the squares of half a window of single numbers, and under a Hann window of double ones, which is added to `sums`. */
function halfPower(window: usize, hann: usize, sums: usize): f64 {
  let one = f64x2.splat(0);
  let two = f64x2.splat(0);
  let three = v128.load(sums);
  let four = v128.load(sums, 16);
  for (const end = window + SINGLES / 2; window < end; window += 16, hann += 32) {
    const x = v128.load(window);
    const a = low(x);
    const b = high(x);
    one = f64x2.add(one, f64x2.mul(a, a));
    two = f64x2.add(two, f64x2.mul(b, b));
    const c = f64x2.mul(a, v128.load(hann));
    const d = f64x2.mul(b, v128.load(hann, 16));
    three = f64x2.add(three, f64x2.mul(c, c));
    four = f64x2.add(four, f64x2.mul(d, d));
  }
  v128.store(sums, three);
  v128.store(sums, four, 16);
  return lanesSum(f64x2.add(one, two));
}

/** Sum of the squares of a window under a Hann window; that of each half goes to `firstPower` and `secondPower`. work: 32 bytes. */
function weightedPower(window: usize, hann: usize, work: usize): f64 {
  v128.store(work, f64x2.splat(0));
  v128.store(work, f64x2.splat(0), 16);
  firstPower = halfPower(window, hann, work);
  secondPower = halfPower(window + SINGLES / 2, hann + DOUBLES / 2, work);
  return lanesSum(f64x2.add(v128.load(work), v128.load(work, 16)));
}

/** Copies a window of little power, louder. */
function makeLouder(from: usize, to: usize): void {
  const by = f32x4.splat(LOUDER);
  for (let at: usize = 0; at < SINGLES; at += 16) v128.store(to + at, f32x4.mul(v128.load(from + at), by));
}

/**
 * The spectrum X of the window and that of its first half, A, come from one transform of both as real and imaginary parts: of z and
 * what mirrors it X is half the sum, A half the difference turned by a right angle. (A may come raised: see `look`.) X goes to `re` and `im` (double), times `scale`;
 * X times A's conjugate, the spectrum of their correlation, goes to `product` (single, 512 + 4 numbers, and as many behind).
 */
function partSpectra(z: usize, re: usize, im: usize, product: usize, scale: f64): void {
  const productIm = product + 2064;
  const first = load<f32>(z);
  store<f64>(re, scale * <f64>first);
  store<f64>(im, 0);
  store<f32>(product, first * load<f32>(z + PLANE));
  store<f32>(productIm, 0);
  const halves = f32x4.splat(0.5);
  const scales = f64x2.splat(scale);
  // Bins 1 to 512; the last mirrors itself.
  for (let at: usize = 4, mirror: usize = 4080; at <= 2036; at += 16, mirror -= 16) {
    const a = v128.load(z + at);
    const b = v128.load(z + PLANE + at);
    const c = reversed(v128.load(z + mirror));
    const d = reversed(v128.load(z + PLANE + mirror));
    const xRe = f32x4.mul(halves, f32x4.add(a, c));
    const xIm = f32x4.mul(halves, f32x4.sub(b, d));
    const aRe = f32x4.mul(halves, f32x4.add(b, d));
    const aIm = f32x4.mul(halves, f32x4.sub(c, a));
    v128.store(product + at, f32x4.add(f32x4.mul(xRe, aRe), f32x4.mul(xIm, aIm)));
    v128.store(productIm + at, f32x4.sub(f32x4.mul(xIm, aRe), f32x4.mul(xRe, aIm)));
    v128.store(re + 2 * at, f64x2.mul(scales, low(xRe)));
    v128.store(re + 2 * at, f64x2.mul(scales, high(xRe)), 16);
    v128.store(im + 2 * at, f64x2.mul(scales, low(xIm)));
    v128.store(im + 2 * at, f64x2.mul(scales, high(xIm)), 16);
  }
}

/**
 * Packs the spectrum of 1024 real numbers, conjugate, into one of 512 complex ones whose forward transform gives them
 * (Van Loan, section 4.4), as core/signal/script-fft.ts does.
 */
function pack(product: usize, x: usize, splits: usize): void {
  const productIm = product + 2064;
  const firstRe = load<f32>(product);
  const lastRe = load<f32>(product + 2048);
  store<f32>(x, 0.5 * (firstRe + lastRe));
  store<f32>(x + PLANE, -0.5 * (firstRe - lastRe));
  const halves = f32x4.splat(0.5);
  let w = splits;
  for (let at: usize = 4, mirror: usize = 2032; at < 1024; at += 16, mirror -= 16, w += 32) {
    const aRe = v128.load(product + at);
    const aIm = v128.load(productIm + at);
    const bRe = reversed(v128.load(product + mirror));
    const bIm = reversed(v128.load(productIm + mirror));
    const evenRe = f32x4.mul(halves, f32x4.add(aRe, bRe));
    const evenIm = f32x4.mul(halves, f32x4.sub(aIm, bIm));
    const turnedRe = f32x4.mul(halves, f32x4.sub(aRe, bRe));
    const turnedIm = f32x4.mul(halves, f32x4.add(aIm, bIm));
    const wRe = v128.load(w);
    const wIm = v128.load(w, 16);
    const oddRe = f32x4.add(f32x4.mul(turnedRe, wRe), f32x4.mul(turnedIm, wIm));
    const oddIm = f32x4.sub(f32x4.mul(turnedIm, wRe), f32x4.mul(turnedRe, wIm));
    v128.store(x + at, f32x4.sub(evenRe, oddIm));
    v128.store(x + at + PLANE, f32x4.neg(f32x4.add(evenIm, oddRe)));
    v128.store(x + mirror, reversed(f32x4.add(evenRe, oddIm)));
    v128.store(x + mirror + PLANE, reversed(f32x4.sub(evenIm, oddRe)));
  }
}

/** Power of each bin of a Hann window: half the rectangular bin less a quarter of its neighbours (Harris 1978). From bin 1 to that before
 * the last, which lies `last` bytes, a multiple of 16, behind the first. */
export function hannPowers(re: usize, im: usize, powers: usize, last: usize): void {
  const half = f64x2.splat(0.5);
  const quarter = f64x2.splat(0.25);
  for (let at: usize = 8; at < last; at += 16) {
    const a = f64x2.sub(
      f64x2.mul(half, v128.load(re + at)),
      f64x2.mul(quarter, f64x2.add(v128.load(re + at - 8), v128.load(re + at, 8))),
    );
    const b = f64x2.sub(
      f64x2.mul(half, v128.load(im + at)),
      f64x2.mul(quarter, f64x2.add(v128.load(im + at - 8), v128.load(im + at, 8))),
    );
    v128.store(powers + at, f64x2.add(f64x2.mul(a, a), f64x2.mul(b, b)));
  }
  store<f64>(powers + last, 0);
}

/**
 * d'(lag), lag 0 to 512, from the window and its products, which lie as 512 complex numbers, each with the products of two lags: the sums of
 * core/pitch/difference.ts in the same order. own: power of the first half; scale: what the products are to be taken times.
 */
function normalise(window: usize, own: f64, products: usize, scale: f64, row: usize): void {
  let energy = own;
  let sum: f64 = 0;
  store<f64>(row, 1);
  const zero = f64x2.splat(0);
  const one = f64x2.splat(1);
  const owns = f64x2.splat(own);
  const scales = f64x2.splat(scale);
  // Lag 2n lies in the real parts, negative, lag 2n + 1 in the imaginary ones.
  const signs = f64x2.replace_lane(one, 1, -1);
  let lags = f64x2.replace_lane(one, 1, 2);
  for (let at: usize = 0; at < 2048; at += 8, products += 4, row += 16) {
    const gone = low(v128.load64_zero(window + at));
    const come = low(v128.load64_zero(window + at, 2048));
    const more = f64x2.sub(f64x2.mul(come, come), f64x2.mul(gone, gone));
    const oddEnergy = energy + f64x2.extract_lane(more, 0);
    energy = oddEnergy + f64x2.extract_lane(more, 1);
    const both = f64x2.replace_lane(f64x2.splat(oddEnergy), 1, energy);
    const pair = v128.load32_lane(products + 4, v128.load32_zero(products + PLANE), 1);
    const product = f64x2.mul(scales, f64x2.mul(signs, low(pair)));
    const d = f64x2.max(zero, f64x2.add(f64x2.add(owns, both), product));
    const oddSum = sum + f64x2.extract_lane(d, 0);
    sum = oddSum + f64x2.extract_lane(d, 1);
    const sums = f64x2.replace_lane(f64x2.splat(oddSum), 1, sum);
    const value = f64x2.div(f64x2.mul(d, lags), sums);
    v128.store(row, v128.bitselect(value, one, f64x2.gt(sums, zero)), 8);
    lags = f64x2.add(lags, f64x2.splat(2));
  }
  // The last lag would need a sample beyond the window; it only closes the row.
  store<f64>(row, <f64>HALF);
}

/** Half way between a lag and the next, told by the eight about it; the mean of two where there are no eight. */
function between(row: usize, lag: i32, halfTaps: usize): f64 {
  const left = row + (<usize>lag << 3);
  if (lag < 3 || lag + 4 >= HALF) return 0.5 * (load<f64>(left) + load<f64>(left, 8));
  let sum = load<f64>(halfTaps) * (load<f64>(left) + load<f64>(left, 8));
  sum += load<f64>(halfTaps, 8) * (load<f64>(left - 8) + load<f64>(left, 16));
  sum += load<f64>(halfTaps, 16) * (load<f64>(left - 16) + load<f64>(left, 24));
  sum += load<f64>(halfTaps, 24) * (load<f64>(left - 24) + load<f64>(left, 32));
  return sum;
}

/**
 * The dips that lie deeper than all before them: their lags to `dips`, their depths DEPTHS_BEHIND; gives how many. The sums
 * of core/pitch/dips.ts in the same order.
 */
export function findDips(row: usize, shortest: i32, longest: i32, halfTaps: usize, dips: usize): i32 {
  const one = f64x2.splat(1);
  let record: f64 = 1;
  let count = 0;
  for (let lag = shortest; lag <= longest; lag += 2) {
    const place = row + (<usize>lag << 3);
    const values = v128.load(place);
    const isDip = v128.and(f64x2.lt(values, v128.load(place - 8)), f64x2.le(values, v128.load(place, 8)));
    const lanes = i64x2.bitmask(v128.and(isDip, f64x2.lt(values, one)));
    if (lanes == 0) continue;
    // Of two lags beside each other one at most is lower than the one before and not above the next.
    const at = lag + (lanes >> 1);
    if (at > longest) break;
    const left = between(row, at - 1, halfTaps);
    const right = between(row, at, halfTaps);
    const value = load<f64>(row + (<usize>at << 3));
    let middle: f64 = 0;
    let before = left;
    let here = value;
    let after = right;
    if (left < value && left <= right) {
      middle = -0.5;
      before = load<f64>(row + (<usize>at << 3) - 8);
      here = left;
      after = value;
    } else if (right < value) {
      middle = 0.5;
      before = value;
      here = right;
      after = load<f64>(row + (<usize>at << 3), 8);
    }
    const bend = before - 2 * here + after;
    const shift = bend > 0 ? (0.5 * (before - after)) / bend : 0;
    const depth = max<f64>(0, here - 0.25 * (before - after) * shift);
    if (depth >= record) continue;
    record = depth;
    store<f64>(dips + (<usize>count << 3), <f64>at + (middle + 0.5 * shift));
    store<f64>(dips + (<usize>count << 3), depth, DEPTHS_BEHIND);
    count++;
  }
  return count;
}

/**
 * Looks at a window: fills the spectrum, the bins' powers and the row of d'. Gives the weighted power. tables: Hann window (double),
 * twiddles of 1024 and of 512, splits (single). work: two times 8192 bytes, the products and a window.
 *
 * The first half is transformed about as loud as the whole: what rounding leaves of a loud second half in the spectrum of a quiet
 * first one would be taken for what both have in common.
 */
export function look(
  window: usize, hann: usize, twiddles: usize, shortTwiddles: usize, splits: usize,
  re: usize, im: usize, powers: usize, row: usize, work: usize,
): f64 {
  const weighted = weightedPower(window, hann, work);
  let own = firstPower;
  let whole = own + secondPower;
  let scale: f64 = 1;
  if (whole < QUIET && whole > 0) {
    makeLouder(window, work + 2 * DOUBLES + BINS_BYTES);
    window = work + 2 * DOUBLES + BINS_BYTES;
    scale = 1.0 / <f64>LOUDER;
    own *= <f64>LOUDER * <f64>LOUDER;
    whole *= <f64>LOUDER * <f64>LOUDER;
  }
  const raised = min<f64>(MOST_RAISED, own > 0 ? sqrt(whole / own) : MOST_RAISED);
  const other = work + DOUBLES;
  const product = work + 2 * DOUBLES;
  transformBoth(window, <f32>raised, work, other, twiddles);
  partSpectra(work, re, im, product, scale);
  pack(product, work, splits);
  transformShort(work, other, shortTwiddles);
  // Of a first half that is nothing at all there are no products, only rounding.
  normalise(window, own, other, own > 0 ? 2.0 / <f64>HALF / <f64><f32>raised : 0, row);
  hannPowers(re, im, powers, 4096);
  return weighted;
}
