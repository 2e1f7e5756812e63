/** A sound read between its frames, as ../../../slow-reader.ts does. */

/**
 * Reads a line of doubles between its frames: number n of `count` lies at `start` + n * `step` frames of it. taps: rows of `count` filters, one
 * for each of `phases` parts of a frame, tapCount (even) doubles each, the first of which weighs the frame `lead` after the whole one before the place.
 * Two places at a time, each with sums of its own: a processor waits for no sum.
 */
export function readBetween(
  line: usize, start: f64, step: f64, count: i32, taps: usize, tapCount: i32, phases: i32, lead: i32, target: usize,
): void {
  const four = <usize>(tapCount & ~3) << 3;
  const all = <usize>tapCount << 3;
  const origin = line + (<isize>lead << 3);
  for (let n = 0; n < count; n += 2) {
    const at = start + <f64>n * step;
    const whole = floor(at);
    const phase = <i32>floor((at - whole) * <f64>phases + 0.5);
    const from = origin + (<isize>(<i32>whole + i32(phase == phases)) << 3);
    const tap = taps + (phase == phases ? 0 : <usize>phase * all);
    // Behind the last place the first of the two is read once more.
    const at2 = n + 1 < count ? start + <f64>(n + 1) * step : at;
    const whole2 = floor(at2);
    const phase2 = <i32>floor((at2 - whole2) * <f64>phases + 0.5);
    const from2 = origin + (<isize>(<i32>whole2 + i32(phase2 == phases)) << 3);
    const tap2 = taps + (phase2 == phases ? 0 : <usize>phase2 * all);
    let ab = f64x2.splat(0);
    let cd = f64x2.splat(0);
    let ab2 = f64x2.splat(0);
    let cd2 = f64x2.splat(0);
    let k: usize = 0;
    for (; k < four; k += 32) {
      ab = f64x2.add(ab, f64x2.mul(v128.load(tap + k), v128.load(from + k)));
      ab2 = f64x2.add(ab2, f64x2.mul(v128.load(tap2 + k), v128.load(from2 + k)));
      cd = f64x2.add(cd, f64x2.mul(v128.load(tap + k, 16), v128.load(from + k, 16)));
      cd2 = f64x2.add(cd2, f64x2.mul(v128.load(tap2 + k, 16), v128.load(from2 + k, 16)));
    }
    let a = f64x2.extract_lane(ab, 0);
    let a2 = f64x2.extract_lane(ab2, 0);
    for (; k < all; k += 8) {
      a += load<f64>(tap + k) * load<f64>(from + k);
      a2 += load<f64>(tap2 + k) * load<f64>(from2 + k);
    }
    const to = target + (<usize>n << 3);
    store<f64>(to, a + f64x2.extract_lane(ab, 1) + (f64x2.extract_lane(cd, 0) + f64x2.extract_lane(cd, 1)));
    if (n + 1 < count) store<f64>(to, a2 + f64x2.extract_lane(ab2, 1) + (f64x2.extract_lane(cd2, 0) + f64x2.extract_lane(cd2, 1)), 8);
  }
}
