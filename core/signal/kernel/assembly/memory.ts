/** What several kernels need of their memory. Addresses are bytes in it. */

let top: usize = (__heap_base + 63) & ~63;

/** Address of so many zeroed bytes, on 64 bytes. Grows the memory; 0 when there is none. */
export function allocate(bytes: i32): usize {
  const address = top;
  top = (top + bytes + 63) & ~63;
  const missing = <i32>((top + 0xffff) >> 16) - memory.size();
  if (missing > 0 && memory.grow(missing) < 0) return 0;
  return address;
}

/** `count` single-precision numbers as doubles; up to 3 more are read and written behind them. */
export function widen(from: usize, to: usize, count: i32): void {
  const end = from + (<usize>count << 2);
  for (; from < end; from += 16, to += 32) {
    const four = v128.load(from);
    v128.store(to, f64x2.promote_low_f32x4(four));
    v128.store(to, f64x2.promote_low_f32x4(v128.shuffle<f32>(four, four, 2, 3, 0, 1)), 16);
  }
}
