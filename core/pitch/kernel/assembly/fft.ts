/**
 * A complex Fourier transform of 1024 or 512 numbers, single precision, four at a time: Stockham's autosort in radix 4, with a radix-2
 * stage to close 512 (Van Loan, Computational Frameworks for the Fast Fourier Transform, 1992, section 1.7). Not scaled. Imaginary parts
 * lie PLANE bytes behind the real ones, for both sizes. Twiddles: stage by stage of each group w, w squared and w cubed, real and
 * imaginary; in the first stage those of four groups side by side.
 */

/** Bytes from real to imaginary parts. */
export const PLANE: usize = 4096;

// @ts-ignore: decorator
@inline function add(a: v128, b: v128): v128 { return f32x4.add(a, b); }
// @ts-ignore: decorator
@inline function sub(a: v128, b: v128): v128 { return f32x4.sub(a, b); }
// @ts-ignore: decorator
@inline function mul(a: v128, b: v128): v128 { return f32x4.mul(a, b); }
// @ts-ignore: decorator
@inline function turnedRe(wRe: v128, wIm: v128, re: v128, im: v128): v128 { return sub(mul(wRe, re), mul(wIm, im)); }
// @ts-ignore: decorator
@inline function turnedIm(wRe: v128, wIm: v128, re: v128, im: v128): v128 { return add(mul(wRe, im), mul(wIm, re)); }

/** Four rows become four columns, one after the other in memory. */
// @ts-ignore: decorator
@inline function storeTurned(to: usize, a: v128, b: v128, c: v128, d: v128): void {
  const low01 = v128.shuffle<f32>(a, b, 0, 4, 1, 5);
  const high01 = v128.shuffle<f32>(a, b, 2, 6, 3, 7);
  const low23 = v128.shuffle<f32>(c, d, 0, 4, 1, 5);
  const high23 = v128.shuffle<f32>(c, d, 2, 6, 3, 7);
  v128.store(to, v128.shuffle<f32>(low01, low23, 0, 1, 4, 5));
  v128.store(to, v128.shuffle<f32>(low01, low23, 2, 3, 6, 7), 16);
  v128.store(to, v128.shuffle<f32>(high01, high23, 0, 1, 4, 5), 32);
  v128.store(to, v128.shuffle<f32>(high01, high23, 2, 3, 6, 7), 48);
}

/** What of a butterfly comes after its first sums, for the first stage: groups of one, four groups at a time. */
// @ts-ignore: decorator
@inline function storeFirst(
  to: usize, tw: usize,
  acRe: v128, acIm: v128, amcRe: v128, amcIm: v128, bdRe: v128, bdIm: v128, turnRe: v128, turnIm: v128,
): void {
  const r1 = add(amcRe, turnRe);
  const s1 = sub(amcIm, turnIm);
  const r2 = sub(acRe, bdRe);
  const s2 = sub(acIm, bdIm);
  const r3 = sub(amcRe, turnRe);
  const s3 = add(amcIm, turnIm);
  const w1Re = v128.load(tw);
  const w1Im = v128.load(tw, 16);
  const w2Re = v128.load(tw, 32);
  const w2Im = v128.load(tw, 48);
  const w3Re = v128.load(tw, 64);
  const w3Im = v128.load(tw, 80);
  storeTurned(to, add(acRe, bdRe), turnedRe(w1Re, w1Im, r1, s1), turnedRe(w2Re, w2Im, r2, s2), turnedRe(w3Re, w3Im, r3, s3));
  storeTurned(to + PLANE, add(acIm, bdIm), turnedIm(w1Re, w1Im, r1, s1), turnedIm(w2Re, w2Im, r2, s2), turnedIm(w3Re, w3Im, r3, s3));
}

/** First stage; apart: bytes of a quarter of the numbers. */
// @ts-ignore: decorator
@inline function firstStage(x: usize, y: usize, apart: usize, twiddles: usize): void {
  let tw = twiddles;
  let to = y;
  for (const end = x + apart; x < end; x += 16) {
    const re0 = v128.load(x);
    const im0 = v128.load(x, PLANE);
    const re1 = v128.load(x + apart);
    const im1 = v128.load(x + apart, PLANE);
    const re2 = v128.load(x + 2 * apart);
    const im2 = v128.load(x + 2 * apart, PLANE);
    const re3 = v128.load(x + 3 * apart);
    const im3 = v128.load(x + 3 * apart, PLANE);
    storeFirst(
      to, tw,
      add(re0, re2), add(im0, im2), sub(re0, re2), sub(im0, im2),
      add(re1, re3), add(im1, im3), sub(im1, im3), sub(re1, re3),
    );
    tw += 96;
    to += 64;
  }
}

/** First stage of 1024 numbers: a window as real parts, and `by` times its first half as imaginary ones. */
function firstStageOfBoth(window: usize, y: usize, by: f32, twiddles: usize): void {
  const times = f32x4.splat(by);
  let tw = twiddles;
  let to = y;
  let x = window;
  for (const end = x + 1024; x < end; x += 16) {
    const a = v128.load(x);
    const b = v128.load(x, 1024);
    const c = v128.load(x, 2048);
    const d = v128.load(x, 3072);
    const im0 = mul(times, a);
    const im1 = mul(times, b);
    storeFirst(to, tw, add(a, c), im0, sub(a, c), im0, add(b, d), im1, im1, sub(b, d));
    tw += 96;
    to += 64;
  }
}

/** A butterfly of four times four numbers whose twiddles are 1. */
// @ts-ignore: decorator
@inline function plain(from: usize, to: usize, apart: usize, stride: usize): void {
  const re0 = v128.load(from);
  const im0 = v128.load(from, PLANE);
  const re1 = v128.load(from + apart);
  const im1 = v128.load(from + apart, PLANE);
  const re2 = v128.load(from + 2 * apart);
  const im2 = v128.load(from + 2 * apart, PLANE);
  const re3 = v128.load(from + 3 * apart);
  const im3 = v128.load(from + 3 * apart, PLANE);
  const acRe = add(re0, re2);
  const acIm = add(im0, im2);
  const amcRe = sub(re0, re2);
  const amcIm = sub(im0, im2);
  const bdRe = add(re1, re3);
  const bdIm = add(im1, im3);
  const turnRe = sub(im1, im3);
  const turnIm = sub(re1, re3);
  v128.store(to, add(acRe, bdRe));
  v128.store(to, add(acIm, bdIm), PLANE);
  v128.store(to + stride, add(amcRe, turnRe));
  v128.store(to + stride, sub(amcIm, turnIm), PLANE);
  v128.store(to + 2 * stride, sub(acRe, bdRe));
  v128.store(to + 2 * stride, sub(acIm, bdIm), PLANE);
  v128.store(to + 3 * stride, sub(amcRe, turnRe));
  v128.store(to + 3 * stride, add(amcIm, turnIm), PLANE);
}

/** A later stage: `apart / stride` groups of `stride` bytes. The first group's twiddles are 1. */
// @ts-ignore: decorator
@inline function laterStage(x: usize, y: usize, apart: usize, stride: usize, twiddles: usize): void {
  let from = x;
  let to = y;
  for (const end = from + stride; from < end; from += 16, to += 16) plain(from, to, apart, stride);
  let tw = twiddles + 24;
  for (const stop = x + apart; from < stop; ) {
    to += 3 * stride;
    const w1Re = v128.load32_splat(tw);
    const w1Im = v128.load32_splat(tw, 4);
    const w2Re = v128.load32_splat(tw, 8);
    const w2Im = v128.load32_splat(tw, 12);
    const w3Re = v128.load32_splat(tw, 16);
    const w3Im = v128.load32_splat(tw, 20);
    tw += 24;
    for (const end = from + stride; from < end; from += 16, to += 16) {
      const re0 = v128.load(from);
      const im0 = v128.load(from, PLANE);
      const re1 = v128.load(from + apart);
      const im1 = v128.load(from + apart, PLANE);
      const re2 = v128.load(from + 2 * apart);
      const im2 = v128.load(from + 2 * apart, PLANE);
      const re3 = v128.load(from + 3 * apart);
      const im3 = v128.load(from + 3 * apart, PLANE);
      const acRe = add(re0, re2);
      const acIm = add(im0, im2);
      const amcRe = sub(re0, re2);
      const amcIm = sub(im0, im2);
      const bdRe = add(re1, re3);
      const bdIm = add(im1, im3);
      const turnRe = sub(im1, im3);
      const turnIm = sub(re1, re3);
      v128.store(to, add(acRe, bdRe));
      v128.store(to, add(acIm, bdIm), PLANE);
      const r1 = add(amcRe, turnRe);
      const s1 = sub(amcIm, turnIm);
      v128.store(to + stride, turnedRe(w1Re, w1Im, r1, s1));
      v128.store(to + stride, turnedIm(w1Re, w1Im, r1, s1), PLANE);
      const r2 = sub(acRe, bdRe);
      const s2 = sub(acIm, bdIm);
      v128.store(to + 2 * stride, turnedRe(w2Re, w2Im, r2, s2));
      v128.store(to + 2 * stride, turnedIm(w2Re, w2Im, r2, s2), PLANE);
      const r3 = sub(amcRe, turnRe);
      const s3 = add(amcIm, turnIm);
      v128.store(to + 3 * stride, turnedRe(w3Re, w3Im, r3, s3));
      v128.store(to + 3 * stride, turnedIm(w3Re, w3Im, r3, s3), PLANE);
    }
  }
}

/** The radix-2 stage that closes 512. */
function lastOfTwo(x: usize, y: usize): void {
  for (const end = x + 1024; x < end; x += 16, y += 16) {
    const aRe = v128.load(x);
    const aIm = v128.load(x, PLANE);
    const bRe = v128.load(x, 1024);
    const bIm = v128.load(x, PLANE + 1024);
    v128.store(y, add(aRe, bRe));
    v128.store(y, add(aIm, bIm), PLANE);
    v128.store(y, sub(aRe, bRe), 1024);
    v128.store(y, sub(aIm, bIm), PLANE + 1024);
  }
}

/** Transforms 512 numbers at `x`; y: room for them. The result lies at `y`. */
export function transformShort(x: usize, y: usize, twiddles: usize): void {
  firstStage(x, y, 512, twiddles);
  laterStage(y, x, 512, 16, twiddles + 128 * 24);
  laterStage(x, y, 512, 64, twiddles + 160 * 24);
  laterStage(y, x, 512, 256, twiddles + 168 * 24);
  lastOfTwo(x, y);
}

/** Transforms a window (real parts) and `by` times its first half, then zeros (imaginary parts); x, y: room. The result lies at `x`. */
export function transformBoth(window: usize, by: f32, x: usize, y: usize, twiddles: usize): void {
  firstStageOfBoth(window, x, by, twiddles);
  laterStage(x, y, 1024, 16, twiddles + 256 * 24);
  laterStage(y, x, 1024, 64, twiddles + 320 * 24);
  laterStage(x, y, 1024, 256, twiddles + 336 * 24);
  laterStage(y, x, 1024, 1024, twiddles + 340 * 24);
}
