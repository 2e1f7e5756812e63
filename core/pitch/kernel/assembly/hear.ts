/** From a take's samples to what the tracker works on: low pass and fewer samples, no rumble, powers of short steps. */

/** Below this the state of the filter is nothing but a slow loop of denormal numbers. */
const NEGLIGIBLE: f64 = 1e-30;

/**
 * taps[0] weighs the number at `at`, taps[n] those n before and after it, up to `half`, a multiple of four: the sums of
 * core/signal/side-sums.ts in the same order. Double precision.
 */
// @ts-ignore: decorator
@inline export function symmetricSum(taps: usize, at: usize, half: i32): f64 {
  let ab = f64x2.replace_lane(f64x2.splat(0), 0, load<f64>(taps) * load<f64>(at));
  let cd = f64x2.splat(0);
  let tap = taps + 8;
  let before = at - 16;
  let after = at + 8;
  for (const end = tap + (<usize>half << 3); tap < end; tap += 32) {
    const one = v128.load(before);
    const two = v128.load(before - 16);
    const sumOne = f64x2.add(v128.shuffle<f64>(one, one, 1, 0), v128.load(after));
    const sumTwo = f64x2.add(v128.shuffle<f64>(two, two, 1, 0), v128.load(after, 16));
    ab = f64x2.add(ab, f64x2.mul(v128.load(tap), sumOne));
    cd = f64x2.add(cd, f64x2.mul(v128.load(tap, 16), sumTwo));
    before -= 32;
    after += 32;
  }
  return (
    f64x2.extract_lane(ab, 0) + f64x2.extract_lane(ab, 1) + (f64x2.extract_lane(cd, 0) + f64x2.extract_lane(cd, 1))
  );
}

/** Single precision becomes double. */
export function widen(from: usize, to: usize, count: i32): void {
  let n = 0;
  for (; n + 3 < count; n += 4, from += 16, to += 32) {
    v128.store(to, f64x2.promote_low_f32x4(v128.load64_zero(from)));
    v128.store(to, f64x2.promote_low_f32x4(v128.load64_zero(from, 8)), 16);
  }
  for (; n < count; n++, from += 4, to += 8) store<f64>(to, load<f32>(from));
}

/** Powers of the step that goes on. */
let stepSum: f64 = 0;
let brightSum: f64 = 0;
let framesOfStep: i32 = 0;
let before: f64 = 0;
let beforeThat: f64 = 0;

/**
 * A biquad in place, and the powers of short steps of what it gives: mean squares to `powers`, those of the second difference to `brights`;
 * how many steps ended. One loop: each of its sums waits for the last, and the others fill the time. coefficients: b0, b1,
 * b2, a1, a2, and the two numbers of its state; double precision. stepFrames: 0 where nothing is to be counted.
 */
export function filter(
  samples: usize, count: i32, coefficients: usize, stepFrames: i32, powers: usize, brights: usize,
): i32 {
  const b0 = load<f64>(coefficients);
  const b1 = load<f64>(coefficients, 8);
  const b2 = load<f64>(coefficients, 16);
  const a1 = load<f64>(coefficients, 24);
  const a2 = load<f64>(coefficients, 32);
  let z1 = load<f64>(coefficients, 40);
  let z2 = load<f64>(coefficients, 48);
  let left = stepFrames - framesOfStep;
  let power = stepSum;
  let bright = brightSum;
  let last = before;
  let lastButOne = beforeThat;
  let steps = 0;
  for (const end = samples + (<usize>count << 2); samples < end; samples += 4) {
    const x: f64 = load<f32>(samples);
    const y = b0 * x + z1;
    z1 = b1 * x - a1 * y + z2;
    z2 = b2 * x - a2 * y;
    const single = <f32>y;
    store<f32>(samples, single);
    const value: f64 = single;
    power += value * value;
    const bend = value - 2 * last + lastButOne;
    bright += bend * bend;
    lastButOne = last;
    last = value;
    if (--left != 0) continue;
    store<f64>(powers + (<usize>steps << 3), power / <f64>stepFrames);
    store<f64>(brights + (<usize>steps << 3), bright / <f64>stepFrames);
    steps++;
    power = 0;
    bright = 0;
    left = stepFrames;
  }
  store<f64>(coefficients, abs(z1) < NEGLIGIBLE ? 0 : z1, 40);
  store<f64>(coefficients, abs(z2) < NEGLIGIBLE ? 0 : z2, 48);
  if (stepFrames == 0) return 0;
  framesOfStep = stepFrames - left;
  stepSum = power;
  brightSum = bright;
  before = last;
  beforeThat = lastButOne;
  return steps;
}
