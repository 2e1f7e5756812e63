/**
 * The transform of core/signal/script-fft.ts in double precision, two numbers at a time: the same sums in the same order, so that the results are
 * the same to the last bit. Addresses are bytes in memory, and everything lies where `plan` says.
 */

/** Half the transform's size: the complex numbers that are transformed. A power of two, 16 and more. */
let half: i32 = 0;
/** Bytes of one plane of complex parts. */
let plane: usize = 0;
/** Samples, which are complex numbers one after the other. */
let samples: usize = 0;
let spectrum: usize = 0;
let workA: usize = 0;
let workB: usize = 0;
/** See `setTwiddles` in simd-fft.ts. */
let twiddles: usize = 0;
let splits: usize = 0;

/** Bytes that a transform of a size takes. */
export function bytesFor(size: i32): i32 {
  return 11 * ((size >> 1) << 3) + 128;
}

/** Lays a size out from `base` on, which lies on 64 bytes; gives the address behind the last byte needed. */
export function planAt(base: usize, size: i32): usize {
  half = size >> 1;
  plane = <usize>half << 3;
  samples = base;
  spectrum = samples + 2 * plane;
  workA = spectrum + 2 * (plane + 64);
  workB = workA + 2 * plane;
  twiddles = workB + 2 * plane;
  splits = twiddles + 2 * plane;
  return splits + plane;
}

export function samplesAt(): usize {
  return samples;
}

/** Real parts of the bins; the imaginary parts lie a plane and 64 bytes behind. */
export function spectrumAt(): usize {
  return spectrum;
}

export function twiddlesAt(): usize {
  return twiddles;
}

export function splitsAt(): usize {
  return splits;
}

// @ts-ignore: decorator
@inline function even(a: v128, b: v128): v128 {
  return v128.shuffle<f64>(a, b, 0, 2);
}

// @ts-ignore: decorator
@inline function odd(a: v128, b: v128): v128 {
  return v128.shuffle<f64>(a, b, 1, 3);
}

// @ts-ignore: decorator
@inline function reversed(a: v128): v128 {
  return v128.shuffle<f64>(a, a, 1, 0);
}

/** First stage, samples to planes: groups of one, two groups at a time. */
function firstStage(y: usize): void {
  const quarter = plane >> 1;
  let x = samples;
  let tw = twiddles;
  let to = y;
  for (const end = x + quarter; x < end; x += 32) {
    const z0 = v128.load(x);
    const z0b = v128.load(x, 16);
    const z1 = v128.load(x + quarter);
    const z1b = v128.load(x + quarter, 16);
    const z2 = v128.load(x + 2 * quarter);
    const z2b = v128.load(x + 2 * quarter, 16);
    const z3 = v128.load(x + 3 * quarter);
    const z3b = v128.load(x + 3 * quarter, 16);
    const re0 = even(z0, z0b);
    const im0 = odd(z0, z0b);
    const re1 = even(z1, z1b);
    const im1 = odd(z1, z1b);
    const re2 = even(z2, z2b);
    const im2 = odd(z2, z2b);
    const re3 = even(z3, z3b);
    const im3 = odd(z3, z3b);
    const acRe = f64x2.add(re0, re2);
    const acIm = f64x2.add(im0, im2);
    const amcRe = f64x2.sub(re0, re2);
    const amcIm = f64x2.sub(im0, im2);
    const bdRe = f64x2.add(re1, re3);
    const bdIm = f64x2.add(im1, im3);
    const turnRe = f64x2.sub(im1, im3);
    const turnIm = f64x2.sub(re1, re3);
    const r1 = f64x2.add(amcRe, turnRe);
    const s1 = f64x2.sub(amcIm, turnIm);
    const r2 = f64x2.sub(acRe, bdRe);
    const s2 = f64x2.sub(acIm, bdIm);
    const r3 = f64x2.sub(amcRe, turnRe);
    const s3 = f64x2.add(amcIm, turnIm);
    const w1Re = v128.load(tw);
    const w1Im = v128.load(tw, 16);
    const w2Re = v128.load(tw, 32);
    const w2Im = v128.load(tw, 48);
    const w3Re = v128.load(tw, 64);
    const w3Im = v128.load(tw, 80);
    const o0Re = f64x2.add(acRe, bdRe);
    const o0Im = f64x2.add(acIm, bdIm);
    const o1Re = f64x2.sub(f64x2.mul(w1Re, r1), f64x2.mul(w1Im, s1));
    const o1Im = f64x2.add(f64x2.mul(w1Re, s1), f64x2.mul(w1Im, r1));
    const o2Re = f64x2.sub(f64x2.mul(w2Re, r2), f64x2.mul(w2Im, s2));
    const o2Im = f64x2.add(f64x2.mul(w2Re, s2), f64x2.mul(w2Im, r2));
    const o3Re = f64x2.sub(f64x2.mul(w3Re, r3), f64x2.mul(w3Im, s3));
    const o3Im = f64x2.add(f64x2.mul(w3Re, s3), f64x2.mul(w3Im, r3));
    v128.store(to, even(o0Re, o1Re));
    v128.store(to, even(o2Re, o3Re), 16);
    v128.store(to, odd(o0Re, o1Re), 32);
    v128.store(to, odd(o2Re, o3Re), 48);
    v128.store(to + plane, even(o0Im, o1Im));
    v128.store(to + plane, even(o2Im, o3Im), 16);
    v128.store(to + plane, odd(o0Im, o1Im), 32);
    v128.store(to + plane, odd(o2Im, o3Im), 48);
    tw += 96;
    to += 64;
  }
}

/** A later stage of `quarter` groups of `stride` bytes: planes to planes. The first group's twiddles are 1. */
function laterStage(x: usize, y: usize, quarter: i32, stride: usize, stageTwiddles: usize): void {
  const apart = <usize>quarter * stride;
  let from = x;
  let to = y;
  let tw = stageTwiddles;
  for (let p = 0; p < quarter; p++) {
    const w1Re = v128.load64_splat(tw);
    const w1Im = v128.load64_splat(tw, 8);
    const w2Re = v128.load64_splat(tw, 16);
    const w2Im = v128.load64_splat(tw, 24);
    const w3Re = v128.load64_splat(tw, 32);
    const w3Im = v128.load64_splat(tw, 40);
    for (const end = from + stride; from < end; from += 16) {
      const i1 = from + apart;
      const i2 = i1 + apart;
      const i3 = i2 + apart;
      const re0 = v128.load(from);
      const im0 = v128.load(from + plane);
      const re1 = v128.load(i1);
      const im1 = v128.load(i1 + plane);
      const re2 = v128.load(i2);
      const im2 = v128.load(i2 + plane);
      const re3 = v128.load(i3);
      const im3 = v128.load(i3 + plane);
      const acRe = f64x2.add(re0, re2);
      const acIm = f64x2.add(im0, im2);
      const amcRe = f64x2.sub(re0, re2);
      const amcIm = f64x2.sub(im0, im2);
      const bdRe = f64x2.add(re1, re3);
      const bdIm = f64x2.add(im1, im3);
      const turnRe = f64x2.sub(im1, im3);
      const turnIm = f64x2.sub(re1, re3);
      const o1 = to + stride;
      const o2 = o1 + stride;
      const o3 = o2 + stride;
      v128.store(to, f64x2.add(acRe, bdRe));
      v128.store(to + plane, f64x2.add(acIm, bdIm));
      const r1 = f64x2.add(amcRe, turnRe);
      const s1 = f64x2.sub(amcIm, turnIm);
      const r2 = f64x2.sub(acRe, bdRe);
      const s2 = f64x2.sub(acIm, bdIm);
      const r3 = f64x2.sub(amcRe, turnRe);
      const s3 = f64x2.add(amcIm, turnIm);
      if (p == 0) {
        v128.store(o1, r1);
        v128.store(o1 + plane, s1);
        v128.store(o2, r2);
        v128.store(o2 + plane, s2);
        v128.store(o3, r3);
        v128.store(o3 + plane, s3);
      } else {
        v128.store(o1, f64x2.sub(f64x2.mul(w1Re, r1), f64x2.mul(w1Im, s1)));
        v128.store(o1 + plane, f64x2.add(f64x2.mul(w1Re, s1), f64x2.mul(w1Im, r1)));
        v128.store(o2, f64x2.sub(f64x2.mul(w2Re, r2), f64x2.mul(w2Im, s2)));
        v128.store(o2 + plane, f64x2.add(f64x2.mul(w2Re, s2), f64x2.mul(w2Im, r2)));
        v128.store(o3, f64x2.sub(f64x2.mul(w3Re, r3), f64x2.mul(w3Im, s3)));
        v128.store(o3 + plane, f64x2.add(f64x2.mul(w3Re, s3), f64x2.mul(w3Im, r3)));
      }
      to += 16;
    }
    to += 3 * stride;
    tw += 48;
  }
}

/** The radix-2 stage that closes odd powers of two. */
function lastOfTwo(x: usize, y: usize): void {
  const stride = plane >> 1;
  for (let at: usize = 0; at < stride; at += 16) {
    for (let part: usize = 0; part <= plane; part += plane) {
      const a = v128.load(x + part + at);
      const b = v128.load(x + part + at + stride);
      v128.store(y + part + at, f64x2.add(a, b));
      v128.store(y + part + at + stride, f64x2.sub(a, b));
    }
  }
}

/** Complex transform of the samples; gives where its planes lie. */
function transform(): usize {
  firstStage(workB);
  let from = workB;
  let to = workA;
  let count = half >> 2;
  let stride: usize = 32;
  let tw = twiddles + <usize>count * 48;
  while (count >= 4) {
    const quarter = count >> 2;
    laterStage(from, to, quarter, stride, tw);
    tw += <usize>quarter * 48;
    count = quarter;
    stride <<= 2;
    const other = from;
    from = to;
    to = other;
  }
  if (count == 2) {
    lastOfTwo(from, to);
    from = to;
  }
  return from;
}

/** The samples' spectrum. */
export function forward(): void {
  const z = transform();
  const re = spectrum;
  const im = spectrum + plane + 64;
  const firstRe = load<f64>(z);
  const firstIm = load<f64>(z + plane);
  store<f64>(re, firstRe + firstIm);
  store<f64>(im, 0);
  store<f64>(re + plane, firstRe - firstIm);
  store<f64>(im + plane, 0);
  const halves = f64x2.splat(0.5);
  const minusHalves = f64x2.splat(-0.5);
  let w = splits;
  // k and k + 1, and what mirrors them; at the middle the mirror is written last.
  for (let low: usize = 8, high = plane - 16; low < plane >> 1; low += 16, high -= 16) {
    const aRe = v128.load(z + low);
    const aIm = v128.load(z + plane + low);
    const bRe = reversed(v128.load(z + high));
    const bIm = reversed(v128.load(z + plane + high));
    const evenRe = f64x2.mul(halves, f64x2.add(aRe, bRe));
    const evenIm = f64x2.mul(halves, f64x2.sub(aIm, bIm));
    const oddRe = f64x2.mul(halves, f64x2.add(aIm, bIm));
    const oddIm = f64x2.mul(minusHalves, f64x2.sub(aRe, bRe));
    const wRe = v128.load(w);
    const wIm = v128.load(w, 16);
    const turnedRe = f64x2.sub(f64x2.mul(oddRe, wRe), f64x2.mul(oddIm, wIm));
    const turnedIm = f64x2.add(f64x2.mul(oddRe, wIm), f64x2.mul(oddIm, wRe));
    v128.store(re + low, f64x2.add(evenRe, turnedRe));
    v128.store(im + low, f64x2.add(evenIm, turnedIm));
    v128.store(re + high, reversed(f64x2.sub(evenRe, turnedRe)));
    v128.store(im + high, reversed(f64x2.sub(turnedIm, evenIm)));
    w += 32;
  }
}

/** The spectrum's samples; the conjugate of the packed spectrum goes in, so that a forward transform serves as the inverse. */
export function inverse(): void {
  const re = spectrum;
  const im = spectrum + plane + 64;
  const firstRe = load<f64>(re);
  const lastRe = load<f64>(re + plane);
  store<f64>(samples, 0.5 * (firstRe + lastRe));
  store<f64>(samples + 8, -0.5 * (firstRe - lastRe));
  const halves = f64x2.splat(0.5);
  let w = splits;
  for (let low: usize = 8, high = plane - 16; low < plane >> 1; low += 16, high -= 16) {
    const aRe = v128.load(re + low);
    const aIm = v128.load(im + low);
    const bRe = reversed(v128.load(re + high));
    const bIm = reversed(v128.load(im + high));
    const evenRe = f64x2.mul(halves, f64x2.add(aRe, bRe));
    const evenIm = f64x2.mul(halves, f64x2.sub(aIm, bIm));
    const turnedRe = f64x2.mul(halves, f64x2.sub(aRe, bRe));
    const turnedIm = f64x2.mul(halves, f64x2.add(aIm, bIm));
    const wRe = v128.load(w);
    const wIm = v128.load(w, 16);
    const oddRe = f64x2.add(f64x2.mul(turnedRe, wRe), f64x2.mul(turnedIm, wIm));
    const oddIm = f64x2.sub(f64x2.mul(turnedIm, wRe), f64x2.mul(turnedRe, wIm));
    const lowRe = f64x2.sub(evenRe, oddIm);
    const lowIm = f64x2.neg(f64x2.add(evenIm, oddRe));
    const highRe = reversed(f64x2.add(evenRe, oddIm));
    const highIm = reversed(f64x2.sub(evenIm, oddRe));
    v128.store(samples + 2 * low, even(lowRe, lowIm));
    v128.store(samples + 2 * low, odd(lowRe, lowIm), 16);
    v128.store(samples + 2 * high, even(highRe, highIm));
    v128.store(samples + 2 * high, odd(highRe, highIm), 16);
    w += 32;
  }
  const z = transform();
  const scale = f64x2.splat(1 / <f64>half);
  for (let at: usize = 0; at < plane; at += 16) {
    const zRe = f64x2.mul(v128.load(z + at), scale);
    const zIm = f64x2.mul(f64x2.neg(v128.load(z + plane + at)), scale);
    v128.store(samples + 2 * at, even(zRe, zIm));
    v128.store(samples + 2 * at, odd(zRe, zIm), 16);
  }
}
