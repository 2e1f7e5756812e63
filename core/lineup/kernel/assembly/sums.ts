/**
 * Sums over samples, two numbers at a time in double precision: the same in the same order as ../../slow-copy.ts and ../../level-gatherer.ts, whose
 * plain forms are the oracles, so that the results are the same to the last bit. Addresses are bytes in memory.
 */

import { widen } from '../../../signal/kernel/assembly/memory';

// @ts-ignore: decorator
@inline function reversed(a: v128): v128 {
  return v128.shuffle<f64>(a, a, 1, 0);
}

/**
 * Widens `count` new samples to the line's end, and writes a folded sum (taps[0] for the middle, then `half` pairs) for every
 * `factor` doubles of the line from `at` on, as long as they lie before `last`. Returns how many.
 */
export function slowDown(
  samples: usize, count: i32, lineEnd: usize, at: usize, last: usize, taps: usize, half: i32, factor: i32, output: usize,
): i32 {
  widen(samples, lineEnd, count);
  const step = <usize>factor << 3;
  const tapsEnd = taps + (<usize>(half & ~3) << 3);
  const end = taps + (<usize>half << 3);
  let to = output;
  for (; at < last; at += step, to += 8) {
    let ab = f64x2(load<f64>(taps) * load<f64>(at), 0);
    let cd = f64x2.splat(0);
    let after = at + 8;
    let before = at - 16;
    let tap = taps + 8;
    for (; tap < tapsEnd; tap += 32, after += 32, before -= 32) {
      ab = f64x2.add(ab, f64x2.mul(v128.load(tap), f64x2.add(reversed(v128.load(before)), v128.load(after))));
      const pair = f64x2.add(reversed(v128.load(before - 16)), v128.load(after, 16));
      cd = f64x2.add(cd, f64x2.mul(v128.load(tap, 16), pair));
    }
    let a = f64x2.extract_lane(ab, 0);
    for (; tap <= end; tap += 8, after += 8, before -= 8) a += load<f64>(tap) * (load<f64>(before + 8) + load<f64>(after));
    store<f64>(to, a + f64x2.extract_lane(ab, 1) + (f64x2.extract_lane(cd, 0) + f64x2.extract_lane(cd, 1)));
  }
  return <i32>((to - output) >> 3);
}

/** Parts `count` pairs of single-precision numbers into firsts and seconds; four at a time: up to three more are read and written. */
export function partPairs(pairs: usize, count: i32, firsts: usize, seconds: usize): void {
  const end = pairs + (<usize>count << 3);
  for (; pairs < end; pairs += 32, firsts += 16, seconds += 16) {
    const a = v128.load(pairs);
    const b = v128.load(pairs, 16);
    v128.store(firsts, v128.shuffle<f32>(a, b, 0, 2, 4, 6));
    v128.store(seconds, v128.shuffle<f32>(a, b, 1, 3, 5, 7));
  }
}

/**
 * Adds the squares of `count` samples, and of their steps, to the two sums at `sums`; behind these lies the sample before the first. Even
 * and odd samples have sums of their own, which are joined at the end.
 */
export function addLevels(samples: usize, count: i32, sums: usize): void {
  let energy = f64x2(load<f64>(sums), 0);
  let edge = f64x2(load<f64>(sums, 8), 0);
  let last = f64x2.splat(load<f64>(sums, 16));
  let at = samples;
  const end = samples + (<usize>count << 2);
  for (; at + 8 <= end; at += 8) {
    const two = f64x2.promote_low_f32x4(v128.load64_zero(at));
    const step = f64x2.sub(two, v128.shuffle<f64>(last, two, 1, 2));
    energy = f64x2.add(energy, f64x2.mul(two, two));
    edge = f64x2.add(edge, f64x2.mul(step, step));
    last = two;
  }
  let before = f64x2.extract_lane(last, 1);
  let energySum = f64x2.extract_lane(energy, 0);
  let edgeSum = f64x2.extract_lane(edge, 0);
  if (at < end) {
    const one = <f64>load<f32>(at);
    energySum += one * one;
    edgeSum += (one - before) * (one - before);
    before = one;
  }
  store<f64>(sums, energySum + f64x2.extract_lane(energy, 1));
  store<f64>(sums, edgeSum + f64x2.extract_lane(edge, 1), 8);
  store<f64>(sums, before, 16);
}
