/**
 * Transform of N real samples by a complex one of N/2 and a split step. X[k] = sum of x[n] exp(-2 pi i k n / N),
 * k = 0 ... N/2; forward not scaled, inverse scaled by 1/N.
 * Source: Van Loan, Computational Frameworks for the Fast Fourier Transform, 1992, section 4.4.
 */
import { gainOf, imOf, Plan, powerOf } from './plan';
import { firstFromSamples, firstFromSpectrum, groupsOfMany, groupsOfOne, lastToSamples, lastToSpectrum } from './stages';
import { add, all, mul, reversed, sub } from './vector';

/** Runs the middle stages on what lies in workB. Returns where the result lies: workA or workB. */
function middle(plan: Plan): usize {
  const half = plan.size >> 1;
  let count = half >> 4;
  let twiddles = plan.stageTwiddles;
  groupsOfOne(plan.workB, plan.workA, half, plan.plane, count, twiddles);
  let from = plan.workA;
  let to = plan.workB;
  let stride: usize = 64;
  while (count > 8) {
    twiddles += <usize>count * 24;
    count >>= 2;
    groupsOfMany(from, to, half, plan.plane, count, stride, twiddles);
    stride <<= 2;
    const other = from;
    from = to;
    to = other;
  }
  return from;
}

/** Even trailing zeros: a power of four. */
// @ts-ignore: decorator
@inline function isPowerOfFour(half: i32): bool { return (ctz(half) & 1) == 0; }

/** Samples at x, times the window, to re, im and power of the slot. */
export function forward(plan: Plan, x: usize, window: usize, slot: usize): void {
  const half = plan.size >> 1;
  const plane = plan.plane;
  firstFromSamples(x, window, plan.workB, half, plane, plan.firstTwiddles);
  const from = middle(plan);
  const z = from == plan.workA ? plan.workB : plan.workA;
  lastToSpectrum(isPowerOfFour(half), from, z, half, plane);
  split(plan, z, slot);
}

/** From the spectrum of the packed complex signal to the spectrum of the real one. */
function split(plan: Plan, z: usize, slot: usize): void {
  const half = plan.size >> 1;
  const plane = plan.plane;
  const im = imOf(plan, slot) - slot;
  const power = powerOf(plan, slot) - slot;
  const top = <usize>half << 2;
  store<f32>(z + top, load<f32>(z));
  store<f32>(z + plane + top, load<f32>(z + plane));
  const middleRe = load<f32>(z + (top >> 1));
  const middleIm = -load<f32>(z + plane + (top >> 1));
  const halves = all(0.5);
  let twiddles = plan.splitTwiddles;
  let low = slot;
  let high = slot + top - 12;
  let zLow = z;
  let zHigh = z + top - 12;
  while (low < high) {
    const aRe = v128.load(zLow);
    const aIm = v128.load(zLow + plane);
    const bRe = reversed(v128.load(zHigh));
    const bIm = reversed(v128.load(zHigh + plane));
    const evenRe = mul(halves, add(aRe, bRe));
    const evenIm = mul(halves, sub(aIm, bIm));
    const oddRe = add(aIm, bIm);
    const oddIm = sub(bRe, aRe);
    const wRe = v128.load(twiddles);
    const wIm = v128.load(twiddles, 16);
    const turnedRe = sub(mul(oddRe, wRe), mul(oddIm, wIm));
    const turnedIm = add(mul(oddRe, wIm), mul(oddIm, wRe));
    const lowRe = add(evenRe, turnedRe);
    const lowIm = add(evenIm, turnedIm);
    v128.store(low, lowRe);
    v128.store(low + im, lowIm);
    v128.store(low + power, add(mul(lowRe, lowRe), mul(lowIm, lowIm)));
    const highRe = reversed(sub(evenRe, turnedRe));
    const highIm = reversed(sub(turnedIm, evenIm));
    v128.store(high, highRe);
    v128.store(high + im, highIm);
    v128.store(high + power, add(mul(highRe, highRe), mul(highIm, highIm)));
    twiddles += 32;
    low += 16;
    high -= 16;
    zLow += 16;
    zHigh -= 16;
  }
  const at = slot + (top >> 1);
  store<f32>(at, middleRe);
  store<f32>(at + im, middleIm);
  store<f32>(at + power, middleRe * middleRe + middleIm * middleIm);
}

/** re and im of the slot, times its gains, to samples that are multiplied with the window and added to those at y. */
export function inverse(plan: Plan, slot: usize, window: usize, y: usize): void {
  const half = plan.size >> 1;
  const plane = plan.plane;
  join(plan, slot, plan.workA);
  firstFromSpectrum(plan.workA, plan.workB, half, plane, plan.firstTwiddles);
  lastToSamples(isPowerOfFour(half), middle(plan), y, window, half, plane);
}

/**
 * Gains, and from the spectrum of a real signal to that of the packed complex one. Real and imaginary parts are written
 * into each other's place: a forward transform of swapped numbers is an inverse with swapped results.
 */
function join(plan: Plan, slot: usize, z: usize): void {
  const half = plan.size >> 1;
  const plane = plan.plane;
  const im = imOf(plan, slot) - slot;
  const gain = gainOf(plan, slot) - slot;
  const top = <usize>half << 2;
  store<f32>(slot + im, 0);
  store<f32>(slot + im + top, 0);
  const scale = all(<f32>1 / <f32>half);
  let twiddles = plan.splitTwiddles;
  let low = slot;
  let high = slot + top - 12;
  let zLow = z;
  let zHigh = z + top - 12;
  while (low < high) {
    const lowGain = mul(scale, v128.load(low + gain));
    const highGain = reversed(mul(scale, v128.load(high + gain)));
    const aRe = mul(lowGain, v128.load(low));
    const aIm = mul(lowGain, v128.load(low + im));
    const bRe = mul(highGain, reversed(v128.load(high)));
    const bIm = mul(highGain, reversed(v128.load(high + im)));
    const evenRe = mul(all(0.5), add(aRe, bRe));
    const evenIm = mul(all(0.5), sub(aIm, bIm));
    const turnedRe = sub(aRe, bRe);
    const turnedIm = add(aIm, bIm);
    const wRe = v128.load(twiddles);
    const wIm = v128.load(twiddles, 16);
    const oddRe = add(mul(turnedRe, wRe), mul(turnedIm, wIm));
    const oddIm = sub(mul(turnedIm, wRe), mul(turnedRe, wIm));
    // High first: at k = 0 its last lane is bin N/2, which has no place in z and may hold anything.
    v128.store(zHigh + plane, reversed(add(evenRe, oddIm)));
    v128.store(zHigh, reversed(sub(oddRe, evenIm)));
    v128.store(zLow + plane, sub(evenRe, oddIm));
    v128.store(zLow, add(evenIm, oddRe));
    twiddles += 32;
    low += 16;
    high -= 16;
    zLow += 16;
    zHigh -= 16;
  }
  const at = top >> 1;
  const scaled = load<f32>(slot + gain + at) / <f32>half;
  store<f32>(z + plane + at, scaled * load<f32>(slot + at));
  store<f32>(z + at, -scaled * load<f32>(slot + im + at));
}
