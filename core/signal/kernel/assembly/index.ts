/**
 * The two stages of NearInterpolator (core/signal/resample.ts) in single precision, four frames at a time. Addresses are
 * bytes in memory. Every frame is computed in the same order wherever it stands in a call, so that the result does not
 * depend on how it was asked for.
 */

export { allocate } from './memory';

/** Twice the rate: a sample, then the place midway to the next. frames is a multiple of 16; half holds `length` floats. */
export function doubleRate(x: usize, doubled: usize, frames: i32, half: usize, length: i32): void {
  const end = half + (<usize>length << 2);
  for (let m = 0; m < frames; m += 16) {
    const middle = x + (<usize>(m + length - 1) << 2);
    let before = middle;
    let after = middle + 4;
    let s0 = f32x4.splat(0);
    let s1 = f32x4.splat(0);
    let s2 = f32x4.splat(0);
    let s3 = f32x4.splat(0);
    for (let tap = half; tap < end; tap += 4) {
      const c = v128.load32_splat(tap);
      s0 = f32x4.add(s0, f32x4.mul(c, f32x4.add(v128.load(before), v128.load(after))));
      s1 = f32x4.add(s1, f32x4.mul(c, f32x4.add(v128.load(before, 16), v128.load(after, 16))));
      s2 = f32x4.add(s2, f32x4.mul(c, f32x4.add(v128.load(before, 32), v128.load(after, 32))));
      s3 = f32x4.add(s3, f32x4.mul(c, f32x4.add(v128.load(before, 48), v128.load(after, 48))));
      before -= 4;
      after += 4;
    }
    const to = doubled + (<usize>m << 3);
    interleave(to, v128.load(middle), s0);
    interleave(to + 32, v128.load(middle, 16), s1);
    interleave(to + 64, v128.load(middle, 32), s2);
    interleave(to + 96, v128.load(middle, 48), s3);
  }
}

// @ts-ignore: decorator
@inline function interleave(to: usize, even: v128, odd: v128): void {
  v128.store(to, v128.shuffle<f32>(even, odd, 0, 4, 1, 5));
  v128.store(to, v128.shuffle<f32>(even, odd, 2, 6, 3, 7), 16);
}

/** Four partial sums of 12 taps at u, `part` of the way between two rows of the table at t. */
// @ts-ignore: decorator
@inline function partsAt(u: usize, t: usize, part: f64): v128 {
  const v0 = v128.load(u);
  const v1 = v128.load(u, 16);
  const v2 = v128.load(u, 32);
  const lower = f32x4.add(
    f32x4.add(f32x4.mul(v0, v128.load(t)), f32x4.mul(v1, v128.load(t, 16))),
    f32x4.mul(v2, v128.load(t, 32)),
  );
  const upper = f32x4.add(
    f32x4.add(f32x4.mul(v0, v128.load(t, 48)), f32x4.mul(v1, v128.load(t, 64))),
    f32x4.mul(v2, v128.load(t, 80)),
  );
  return f32x4.add(lower, f32x4.mul(f32x4.splat(<f32>part), f32x4.sub(upper, lower)));
}

/** Partial sums of two places, added crosswise: lanes 0 and 2 belong to the first, 1 and 3 to the second. */
// @ts-ignore: decorator
@inline function pairAt(doubled: usize, base: v128, table: usize, phases: v128, places: v128): v128 {
  const whole = f64x2.floor(places);
  const twice = f64x2.mul(f64x2.sub(places, whole), f64x2.splat(2));
  const odd = v128.and(f64x2.ge(twice, f64x2.splat(1)), f64x2.splat(1));
  const phase = f64x2.mul(f64x2.sub(twice, odd), phases);
  const row = f64x2.floor(phase);
  const part = f64x2.sub(phase, row);
  const from = f64x2.add(f64x2.mul(f64x2.sub(whole, base), f64x2.splat(8)), f64x2.mul(odd, f64x2.splat(4)));
  // Adding 2^52 leaves a small whole number in the low bits, which spares a slow conversion.
  const u = f64x2.add(from, f64x2.splat(4503599627370496));
  const t = f64x2.add(f64x2.mul(row, f64x2.splat(48)), f64x2.splat(4503599627370496));
  const w0 = partsAt(
    doubled + <usize>i32x4.extract_lane(u, 0),
    table + <usize>i32x4.extract_lane(t, 0),
    f64x2.extract_lane(part, 0),
  );
  const w1 = partsAt(
    doubled + <usize>i32x4.extract_lane(u, 2),
    table + <usize>i32x4.extract_lane(t, 2),
    f64x2.extract_lane(part, 1),
  );
  return f32x4.add(v128.shuffle<f32>(w0, w1, 0, 4, 1, 5), v128.shuffle<f32>(w0, w1, 2, 6, 3, 7));
}

/**
 * Frames of k = first and on, at the places start + k * step, to output; up to 3 more than count are written.
 * base: whole number of the input frame that lies 2.5 frames after doubled[0] (where the 12 taps of a place begin).
 */
export function interpolate(
  doubled: usize,
  base: f64,
  table: usize,
  phases: f64,
  start: f64,
  step: f64,
  first: f64,
  output: usize,
  count: i32,
): void {
  const bases = f64x2.splat(base);
  const phasesOfTwo = f64x2.splat(phases);
  const starts = f64x2.splat(start);
  const steps = f64x2.splat(step);
  const lanes = f64x2(0, 1);
  for (let i = 0; i < count; i += 4) {
    const k = f64x2.add(f64x2.splat(first + <f64>i), lanes);
    const next = f64x2.add(k, f64x2.splat(2));
    const a = pairAt(doubled, bases, table, phasesOfTwo, f64x2.add(starts, f64x2.mul(k, steps)));
    const b = pairAt(doubled, bases, table, phasesOfTwo, f64x2.add(starts, f64x2.mul(next, steps)));
    v128.store(
      output + (<usize>i << 2),
      f32x4.add(v128.shuffle<f32>(a, b, 0, 1, 4, 5), v128.shuffle<f32>(a, b, 2, 3, 6, 7)),
    );
  }
}
