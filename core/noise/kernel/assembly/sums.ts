/** Reductions and vector functions over arrays. `count`: a multiple of 4; addresses on 16 bytes for speed. */
import { add, exp2, lanesMax, lanesSum, log2, mul } from './vector';

/** Sum of x. Eight partial sums keep the rounding error near that of a sum of count / 8. */
export function sum(x: usize, count: i32): f32 {
  let a = f32x4.splat(0);
  let b = f32x4.splat(0);
  let at = 0;
  for (; at + 8 <= count; at += 8, x += 32) {
    a = add(a, v128.load(x));
    b = add(b, v128.load(x, 16));
  }
  if (at < count) a = add(a, v128.load(x));
  return lanesSum(add(a, b));
}

/** Sum of x times y. */
export function dot(x: usize, y: usize, count: i32): f32 {
  let a = f32x4.splat(0);
  let b = f32x4.splat(0);
  let at = 0;
  for (; at + 8 <= count; at += 8, x += 32, y += 32) {
    a = add(a, mul(v128.load(x), v128.load(y)));
    b = add(b, mul(v128.load(x, 16), v128.load(y, 16)));
  }
  if (at < count) a = add(a, mul(v128.load(x), v128.load(y)));
  return lanesSum(add(a, b));
}

/** Largest of x; count at least 4. */
export function largest(x: usize, count: i32): f32 {
  let a = v128.load(x);
  for (let at = 4; at < count; at += 4) {
    x += 16;
    a = f32x4.pmax(a, v128.load(x));
  }
  return lanesMax(a);
}

/** y = log2(x), element by element; may work in place. */
export function log2Array(x: usize, y: usize, count: i32): void {
  const end = x + (<usize>count << 2);
  for (; x < end; x += 16, y += 16) v128.store(y, log2(v128.load(x)));
}

/** y = 2^x, element by element; may work in place. */
export function exp2Array(x: usize, y: usize, count: i32): void {
  const end = x + (<usize>count << 2);
  for (; x < end; x += 16, y += 16) v128.store(y, exp2(v128.load(x)));
}
