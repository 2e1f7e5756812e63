/** Sine and cosine of fractions of a turn, to the last bits of a double and the same on every engine. */

/** cos(2 pi k / n) after `turn(k, n)`. */
export let turnCos: f64 = 1;
/** sin(2 pi k / n) after `turn(k, n)`. */
export let turnSin: f64 = 0;

/** Sets turnCos and turnSin. 0 <= k < n <= 2^20; n a multiple of 8. Taylor series on an eighth of a turn. */
export function turn(k: i32, n: i32): void {
  const octant = (8 * k) / n;
  const rest = 8 * k - octant * n;
  const fraction = octant & 1 ? n - rest : rest;
  const x = (0.7853981633974483 * <f64>fraction) / <f64>n;
  const u = x * x;
  let c: f64 = 1;
  let s: f64 = 1;
  for (let m = 18; m > 0; m -= 2) {
    c = 1 - (c * u) / <f64>(m * (m - 1));
    s = 1 - (s * u) / <f64>(m * (m + 1));
  }
  s *= x;
  const swapped = octant == 1 || octant == 2 || octant == 5 || octant == 6;
  const a = swapped ? s : c;
  const b = swapped ? c : s;
  turnCos = octant >= 2 && octant <= 5 ? -a : a;
  turnSin = octant >= 4 ? -b : b;
}
