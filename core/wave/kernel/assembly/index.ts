/**
 * Samples of WAVE files to single precision, one channel, full scale 1: scaled by powers of two, so every result is
 * exact. Oracle: ../../samples.ts. And the extremes of samples; oracle: the plain form in ../../extremes.ts.
 */

/** Zeroed bytes on a cache line, with room for a vector to spare behind. They are never given back. */
export function allocate(bytes: usize): usize {
  const at = (heap.alloc(bytes + 128) + 63) & ~63;
  memory.fill(at, 0, bytes + 64);
  return at;
}

/** count samples of 16 bits; up to 7 more are written behind them. */
export function from16(from: usize, to: usize, count: i32): void {
  const step = f32x4.splat(1.0 / 32768.0);
  const end = to + (<usize>count << 2);
  for (; to < end; from += 16, to += 32) {
    const eight = v128.load(from);
    v128.store(to, f32x4.mul(step, f32x4.convert_i32x4_s(i32x4.extend_low_i16x8_s(eight))));
    v128.store(to, f32x4.mul(step, f32x4.convert_i32x4_s(i32x4.extend_high_i16x8_s(eight))), 16);
  }
}

/** count samples of 24 bits; up to 3 more are written behind them. */
export function from24(from: usize, to: usize, count: i32): void {
  const step = f32x4.splat(1.0 / 2147483648.0);
  const end = to + (<usize>count << 2);
  const none = i32x4.splat(0);
  for (; to < end; from += 12, to += 16) {
    // Each three bytes become the upper ones of four.
    const four = v128.shuffle<i8>(v128.load(from), none, 16, 0, 1, 2, 16, 3, 4, 5, 16, 6, 7, 8, 16, 9, 10, 11);
    v128.store(to, f32x4.mul(step, f32x4.convert_i32x4_s(four)));
  }
}

/**
 * Lowest and highest of count samples, 0 if they lie above or below it, to two floats at `to`; samples that are no numbers are passed over,
 * and a third one is set to 1 if there are any, or infinite ones.
 */
export function extremes(from: usize, count: i32, to: usize): void {
  let low = f32x4.splat(0);
  let high = f32x4.splat(0);
  let strange = f32x4.splat(0);
  const end = from + (<usize>count << 2);
  for (; from + 16 <= end; from += 16) {
    const four = v128.load(from);
    low = f32x4.pmin(low, four);
    high = f32x4.pmax(high, four);
    strange = v128.or(strange, f32x4.sub(four, four));
  }
  let lowest = min(min(f32x4.extract_lane(low, 0), f32x4.extract_lane(low, 1)), min(f32x4.extract_lane(low, 2), f32x4.extract_lane(low, 3)));
  let highest = max(
    max(f32x4.extract_lane(high, 0), f32x4.extract_lane(high, 1)),
    max(f32x4.extract_lane(high, 2), f32x4.extract_lane(high, 3)),
  );
  // What differs from itself by 0 is a number; else bits stay set.
  let isStrange = v128.any_true(strange);
  for (; from < end; from += 4) {
    const one = load<f32>(from);
    if (one < lowest) lowest = one;
    if (one > highest) highest = one;
    if (one - one != 0) isStrange = true;
  }
  store<f32>(to, lowest);
  store<f32>(to, highest, 4);
  if (isStrange) store<f32>(to, 1, 8);
}
