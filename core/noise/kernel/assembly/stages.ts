/**
 * Stages of a complex radix-4 Stockham autosort transform (decimation in frequency), four numbers at a time, real and
 * imaginary parts `plane` bytes apart. `half` is the complex length.
 * Source: Van Loan, Computational Frameworks for the Fast Fourier Transform, 1992, section 1.7.
 */
import { add, all, mul, sub } from './vector';

/** Stores a[i], b[i], c[i], d[i] side by side for i = 0 ... 3. */
// @ts-ignore: decorator
@inline function storeTransposed(to: usize, a: v128, b: v128, c: v128, d: v128): void {
  const ab = v128.shuffle<f32>(a, b, 0, 4, 1, 5);
  const cd = v128.shuffle<f32>(c, d, 0, 4, 1, 5);
  const abHigh = v128.shuffle<f32>(a, b, 2, 6, 3, 7);
  const cdHigh = v128.shuffle<f32>(c, d, 2, 6, 3, 7);
  v128.store(to, v128.shuffle<f64>(ab, cd, 0, 2));
  v128.store(to, v128.shuffle<f64>(ab, cd, 1, 3), 16);
  v128.store(to, v128.shuffle<f64>(abHigh, cdHigh, 0, 2), 32);
  v128.store(to, v128.shuffle<f64>(abHigh, cdHigh, 1, 3), 48);
}

/**
 * First stage, stride 1: neighbouring butterflies share a vector and their results are transposed on the way out.
 * real: `x` holds 2 * half real samples, taken as complex pairs and multiplied with the window; else `x` is planar.
 */
// @ts-ignore: decorator
@inline function firstStage(real: bool, x: usize, window: usize, y: usize, half: i32, plane: usize, twiddles: usize): void {
  const quarter = <usize>half << (real ? 1 : 0);
  const end = x + quarter;
  while (x < end) {
    let aRe: v128, aIm: v128, bRe: v128, bIm: v128, cRe: v128, cIm: v128, dRe: v128, dIm: v128;
    if (real) {
      let low = mul(v128.load(x), v128.load(window));
      let high = mul(v128.load(x, 16), v128.load(window, 16));
      aRe = v128.shuffle<f32>(low, high, 0, 2, 4, 6);
      aIm = v128.shuffle<f32>(low, high, 1, 3, 5, 7);
      low = mul(v128.load(x + quarter), v128.load(window + quarter));
      high = mul(v128.load(x + quarter, 16), v128.load(window + quarter, 16));
      bRe = v128.shuffle<f32>(low, high, 0, 2, 4, 6);
      bIm = v128.shuffle<f32>(low, high, 1, 3, 5, 7);
      low = mul(v128.load(x + 2 * quarter), v128.load(window + 2 * quarter));
      high = mul(v128.load(x + 2 * quarter, 16), v128.load(window + 2 * quarter, 16));
      cRe = v128.shuffle<f32>(low, high, 0, 2, 4, 6);
      cIm = v128.shuffle<f32>(low, high, 1, 3, 5, 7);
      low = mul(v128.load(x + 3 * quarter), v128.load(window + 3 * quarter));
      high = mul(v128.load(x + 3 * quarter, 16), v128.load(window + 3 * quarter, 16));
      dRe = v128.shuffle<f32>(low, high, 0, 2, 4, 6);
      dIm = v128.shuffle<f32>(low, high, 1, 3, 5, 7);
      x += 32;
      window += 32;
    } else {
      aRe = v128.load(x);
      aIm = v128.load(x + plane);
      bRe = v128.load(x + quarter);
      bIm = v128.load(x + plane + quarter);
      cRe = v128.load(x + 2 * quarter);
      cIm = v128.load(x + plane + 2 * quarter);
      dRe = v128.load(x + 3 * quarter);
      dIm = v128.load(x + plane + 3 * quarter);
      x += 16;
    }
    const acRe = add(aRe, cRe);
    const acIm = add(aIm, cIm);
    const bdRe = add(bRe, dRe);
    const bdIm = add(bIm, dIm);
    const aLessCRe = sub(aRe, cRe);
    const aLessCIm = sub(aIm, cIm);
    const turnedRe = sub(dIm, bIm);
    const turnedIm = sub(bRe, dRe);
    const oneRe = sub(aLessCRe, turnedRe);
    const oneIm = sub(aLessCIm, turnedIm);
    const twoRe = sub(acRe, bdRe);
    const twoIm = sub(acIm, bdIm);
    const threeRe = add(aLessCRe, turnedRe);
    const threeIm = add(aLessCIm, turnedIm);
    const w1Re = v128.load(twiddles);
    const w1Im = v128.load(twiddles, 16);
    const w2Re = v128.load(twiddles, 32);
    const w2Im = v128.load(twiddles, 48);
    const w3Re = v128.load(twiddles, 64);
    const w3Im = v128.load(twiddles, 80);
    twiddles += 96;
    storeTransposed(
      y,
      add(acRe, bdRe),
      sub(mul(w1Re, oneRe), mul(w1Im, oneIm)),
      sub(mul(w2Re, twoRe), mul(w2Im, twoIm)),
      sub(mul(w3Re, threeRe), mul(w3Im, threeIm)),
    );
    storeTransposed(
      y + plane,
      add(acIm, bdIm),
      add(mul(w1Re, oneIm), mul(w1Im, oneRe)),
      add(mul(w2Re, twoIm), mul(w2Im, twoRe)),
      add(mul(w3Re, threeIm), mul(w3Im, threeRe)),
    );
    y += 64;
  }
}

/** First stage from real samples under a window. */
export function firstFromSamples(x: usize, window: usize, y: usize, half: i32, plane: usize, twiddles: usize): void {
  firstStage(true, x, window, y, half, plane, twiddles);
}

/** First stage from a planar complex spectrum. */
export function firstFromSpectrum(x: usize, y: usize, half: i32, plane: usize, twiddles: usize): void {
  firstStage(false, x, 0, y, half, plane, twiddles);
}

/** A middle stage: `count` groups of butterflies, each group `stride` bytes long with one set of twiddles. */
// @ts-ignore: decorator
@inline function groups(single: bool, x: usize, y: usize, half: i32, plane: usize, count: i32, stride: usize, twiddles: usize): void {
  const quarter = <usize>half;
  const yStep = single ? 16 : stride;
  for (let p = 0; p < count; p++) {
    const w1Re = v128.load32_splat(twiddles);
    const w1Im = v128.load32_splat(twiddles, 4);
    const w2Re = v128.load32_splat(twiddles, 8);
    const w2Im = v128.load32_splat(twiddles, 12);
    const w3Re = v128.load32_splat(twiddles, 16);
    const w3Im = v128.load32_splat(twiddles, 20);
    twiddles += 24;
    const end = x + stride;
    do {
      const xIm = x + plane;
      const aRe = v128.load(x);
      const cRe = v128.load(x + 2 * quarter);
      const acRe = add(aRe, cRe);
      const aLessCRe = sub(aRe, cRe);
      const bRe = v128.load(x + quarter);
      const dRe = v128.load(x + 3 * quarter);
      const bdRe = add(bRe, dRe);
      const turnedIm = sub(bRe, dRe);
      const aIm = v128.load(xIm);
      const cIm = v128.load(xIm + 2 * quarter);
      const acIm = add(aIm, cIm);
      const aLessCIm = sub(aIm, cIm);
      const bIm = v128.load(xIm + quarter);
      const dIm = v128.load(xIm + 3 * quarter);
      const bdIm = add(bIm, dIm);
      const turnedRe = sub(dIm, bIm);
      const yIm = y + plane;
      v128.store(y, add(acRe, bdRe));
      v128.store(yIm, add(acIm, bdIm));
      const oneRe = sub(aLessCRe, turnedRe);
      const oneIm = sub(aLessCIm, turnedIm);
      v128.store(y + yStep, sub(mul(w1Re, oneRe), mul(w1Im, oneIm)));
      v128.store(yIm + yStep, add(mul(w1Re, oneIm), mul(w1Im, oneRe)));
      const twoRe = sub(acRe, bdRe);
      const twoIm = sub(acIm, bdIm);
      v128.store(y + 2 * yStep, sub(mul(w2Re, twoRe), mul(w2Im, twoIm)));
      v128.store(yIm + 2 * yStep, add(mul(w2Re, twoIm), mul(w2Im, twoRe)));
      const threeRe = add(aLessCRe, turnedRe);
      const threeIm = add(aLessCIm, turnedIm);
      v128.store(y + 3 * yStep, sub(mul(w3Re, threeRe), mul(w3Im, threeIm)));
      v128.store(yIm + 3 * yStep, add(mul(w3Re, threeIm), mul(w3Im, threeRe)));
      x += 16;
      y += 16;
    } while (!single && x < end);
    y += 3 * yStep;
  }
}

/** Second stage, where a group is one vector. */
export function groupsOfOne(x: usize, y: usize, half: i32, plane: usize, count: i32, twiddles: usize): void {
  groups(true, x, y, half, plane, count, 16, twiddles);
}

/** Stages after the second. */
export function groupsOfMany(x: usize, y: usize, half: i32, plane: usize, count: i32, stride: usize, twiddles: usize): void {
  groups(false, x, y, half, plane, count, stride, twiddles);
}

/**
 * Hands on one vector of results. samples: they are swapped complex numbers of an inverse transform, to be interleaved,
 * multiplied with the window and added to the output; else they are stored as they are.
 */
// @ts-ignore: decorator
@inline function put(samples: bool, y: usize, plane: usize, window: usize, at: usize, re: v128, im: v128): void {
  if (samples) {
    const low = v128.shuffle<f32>(im, re, 0, 4, 1, 5);
    const high = v128.shuffle<f32>(im, re, 2, 6, 3, 7);
    const to = y + 2 * at;
    const from = window + 2 * at;
    v128.store(to, add(v128.load(to), mul(low, v128.load(from))));
    v128.store(to, add(v128.load(to, 16), mul(high, v128.load(from, 16))), 16);
  } else {
    v128.store(y + at, re);
    v128.store(y + plane + at, im);
  }
}

/** Last stage when the complex length is a power of 4: twiddles are all 1. */
// @ts-ignore: decorator
@inline function lastOfFour(samples: bool, x: usize, y: usize, window: usize, half: i32, plane: usize): void {
  const stride = <usize>half;
  for (let q: usize = 0; q < stride; q += 16) {
    const from = x + q;
    const fromIm = from + plane;
    const aRe = v128.load(from);
    const cRe = v128.load(from + 2 * stride);
    const bRe = v128.load(from + stride);
    const dRe = v128.load(from + 3 * stride);
    const aIm = v128.load(fromIm);
    const cIm = v128.load(fromIm + 2 * stride);
    const bIm = v128.load(fromIm + stride);
    const dIm = v128.load(fromIm + 3 * stride);
    const acRe = add(aRe, cRe);
    const acIm = add(aIm, cIm);
    const bdRe = add(bRe, dRe);
    const bdIm = add(bIm, dIm);
    const aLessCRe = sub(aRe, cRe);
    const aLessCIm = sub(aIm, cIm);
    const turnedRe = sub(dIm, bIm);
    const turnedIm = sub(bRe, dRe);
    put(samples, y, plane, window, q, add(acRe, bdRe), add(acIm, bdIm));
    put(samples, y, plane, window, q + stride, sub(aLessCRe, turnedRe), sub(aLessCIm, turnedIm));
    put(samples, y, plane, window, q + 2 * stride, sub(acRe, bdRe), sub(acIm, bdIm));
    put(samples, y, plane, window, q + 3 * stride, add(aLessCRe, turnedRe), add(aLessCIm, turnedIm));
  }
}

/** Last stage when the complex length is twice a power of 4: one transform of 8 saves a pass of its own for a factor 2. */
// @ts-ignore: decorator
@inline function lastOfEight(samples: bool, x: usize, y: usize, window: usize, half: i32, plane: usize): void {
  const stride = <usize>half >> 1;
  const root = all(0.70710678118);
  for (let q: usize = 0; q < stride; q += 16) {
    const from = x + q;
    const fromIm = from + plane;
    let sRe = v128.load(from);
    let tRe = v128.load(from + 4 * stride);
    let uRe = v128.load(from + 2 * stride);
    let vRe = v128.load(from + 6 * stride);
    let sIm = v128.load(fromIm);
    let tIm = v128.load(fromIm + 4 * stride);
    let uIm = v128.load(fromIm + 2 * stride);
    let vIm = v128.load(fromIm + 6 * stride);
    const e0Re = add(add(sRe, tRe), add(uRe, vRe));
    const e0Im = add(add(sIm, tIm), add(uIm, vIm));
    const e2Re = sub(add(sRe, tRe), add(uRe, vRe));
    const e2Im = sub(add(sIm, tIm), add(uIm, vIm));
    const e1Re = add(sub(sRe, tRe), sub(uIm, vIm));
    const e1Im = sub(sub(sIm, tIm), sub(uRe, vRe));
    const e3Re = sub(sub(sRe, tRe), sub(uIm, vIm));
    const e3Im = add(sub(sIm, tIm), sub(uRe, vRe));
    sRe = v128.load(from + stride);
    tRe = v128.load(from + 5 * stride);
    uRe = v128.load(from + 3 * stride);
    vRe = v128.load(from + 7 * stride);
    sIm = v128.load(fromIm + stride);
    tIm = v128.load(fromIm + 5 * stride);
    uIm = v128.load(fromIm + 3 * stride);
    vIm = v128.load(fromIm + 7 * stride);
    const o0Re = add(add(sRe, tRe), add(uRe, vRe));
    const o0Im = add(add(sIm, tIm), add(uIm, vIm));
    put(samples, y, plane, window, q, add(e0Re, o0Re), add(e0Im, o0Im));
    put(samples, y, plane, window, q + 4 * stride, sub(e0Re, o0Re), sub(e0Im, o0Im));
    const o2Re = sub(add(sRe, tRe), add(uRe, vRe));
    const o2Im = sub(add(sIm, tIm), add(uIm, vIm));
    put(samples, y, plane, window, q + 2 * stride, add(e2Re, o2Im), sub(e2Im, o2Re));
    put(samples, y, plane, window, q + 6 * stride, sub(e2Re, o2Im), add(e2Im, o2Re));
    const o1Re = add(sub(sRe, tRe), sub(uIm, vIm));
    const o1Im = sub(sub(sIm, tIm), sub(uRe, vRe));
    const w1Re = mul(root, add(o1Re, o1Im));
    const w1Im = mul(root, sub(o1Im, o1Re));
    put(samples, y, plane, window, q + stride, add(e1Re, w1Re), add(e1Im, w1Im));
    put(samples, y, plane, window, q + 5 * stride, sub(e1Re, w1Re), sub(e1Im, w1Im));
    const o3Re = sub(sub(sRe, tRe), sub(uIm, vIm));
    const o3Im = add(sub(sIm, tIm), sub(uRe, vRe));
    const w3Re = mul(root, sub(o3Im, o3Re));
    const w3Im = mul(root, add(o3Re, o3Im));
    put(samples, y, plane, window, q + 3 * stride, add(e3Re, w3Re), sub(e3Im, w3Im));
    put(samples, y, plane, window, q + 7 * stride, sub(e3Re, w3Re), add(e3Im, w3Im));
  }
}

/** Last stage into a planar spectrum. `four`: the complex length is a power of 4. */
export function lastToSpectrum(four: bool, x: usize, y: usize, half: i32, plane: usize): void {
  if (four) lastOfFour(false, x, y, 0, half, plane);
  else lastOfEight(false, x, y, 0, half, plane);
}

/** Last stage of an inverse, added to 2 * half samples under a window. */
export function lastToSamples(four: bool, x: usize, y: usize, window: usize, half: i32, plane: usize): void {
  if (four) lastOfFour(true, x, y, window, half, plane);
  else lastOfEight(true, x, y, window, half, plane);
}
