/**
 * Sums of products for filters, four side by side: one sum alone waits for itself at every tap, which measured 2 to 3 times as long.
 */

/** taps[0] weighs the frame at `at`, taps[n] those n before and after it, up to `half`. */
export function symmetricSum(taps: Float64Array, line: Float64Array, at: number, half: number): number {
  let a = taps[0]! * line[at]!;
  let b = 0;
  let c = 0;
  let d = 0;
  let n = 1;
  for (; n + 3 <= half; n += 4) {
    a += taps[n]! * (line[at - n]! + line[at + n]!);
    b += taps[n + 1]! * (line[at - n - 1]! + line[at + n + 1]!);
    c += taps[n + 2]! * (line[at - n - 2]! + line[at + n + 2]!);
    d += taps[n + 3]! * (line[at - n - 3]! + line[at + n + 3]!);
  }
  for (; n <= half; n++) a += taps[n]! * (line[at - n]! + line[at + n]!);
  return a + b + (c + d);
}

/** taps[n] weighs line[from + n]. */
export function weighedSum(taps: Float64Array, line: Float64Array, from: number): number {
  const count = taps.length;
  let a = 0;
  let b = 0;
  let c = 0;
  let d = 0;
  let n = 0;
  for (; n + 3 < count; n += 4) {
    a += taps[n]! * line[from + n]!;
    b += taps[n + 1]! * line[from + n + 1]!;
    c += taps[n + 2]! * line[from + n + 2]!;
    d += taps[n + 3]! * line[from + n + 3]!;
  }
  for (; n < count; n++) a += taps[n]! * line[from + n]!;
  return a + b + (c + d);
}
