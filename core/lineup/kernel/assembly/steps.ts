/**
 * The levels of a frame's lines in steps, and where they rose: the same as ../../rise-gatherer.ts in plain TypeScript, to the last bit.
 * Addresses are bytes in memory.
 */

/**
 * Steps of a frame's lines, a byte each, to `steps`: max(0, min(255, scale * bits + zero)), where bits are those of the single-precision power
 * re * re + im * im; counts[256 * line + step] grows by one. lines is a multiple of four. Returns the greatest step.
 */
export function addFrame(re: usize, im: usize, lines: i32, scale: f64, zero: f64, steps: usize, counts: usize): i32 {
  const scales = f64x2.splat(scale);
  const zeros = f64x2.splat(zero);
  const least = f64x2.splat(0);
  const most = f64x2.splat(255);
  let peak = 0;
  for (let n = 0; n < lines; n += 2, re += 16, im += 16, steps += 2, counts += 2048) {
    const a = v128.load(re);
    const b = v128.load(im);
    const bits = f32x4.demote_f64x2_zero(f64x2.add(f64x2.mul(a, a), f64x2.mul(b, b)));
    const step = f64x2.add(f64x2.mul(scales, f64x2.convert_low_i32x4_s(bits)), zeros);
    const whole = i32x4.trunc_sat_f64x2_s_zero(f64x2.max(least, f64x2.min(most, step)));
    const one = i32x4.extract_lane(whole, 0);
    const two = i32x4.extract_lane(whole, 1);
    store<u8>(steps, one);
    store<u8>(steps, two, 1);
    const oneAt = counts + (<usize>one << 2);
    const twoAt = counts + (<usize>two << 2);
    store<u32>(oneAt, load<u32>(oneAt) + 1);
    store<u32>(twoAt, load<u32>(twoAt, 1024) + 1, 1024);
    peak = max(peak, max(one, two));
  }
  return peak;
}

/**
 * Where the steps of `frames` frames of `lines` lines, a byte each, rose above those of the frame that lies before them: by the levels of each line and
 * step (single precision, 256 a line) at least `least`. Their lines go to foundLines, their sizes to foundSizes, and to `ends` how many there
 * are up to the end of each frame. Returns how many there are.
 */
export function findRises(
  steps: usize, frames: i32, lines: i32, levels: usize, least: f64, foundLines: usize, foundSizes: usize, ends: usize,
): i32 {
  let found = 0;
  for (let frame = 0; frame < frames; frame++) {
    for (let line = 0; line < lines; line++, steps++) {
      const step = <usize>load<u8>(steps);
      const earlier = <usize>load<u8>(steps - <usize>lines);
      if (step <= earlier) continue;
      const row = levels + (<usize>line << 10);
      const rise = <f64>load<f32>(row + (step << 2)) - <f64>load<f32>(row + (earlier << 2));
      if (rise < least) continue;
      store<u8>(foundLines + <usize>found, line);
      store<f32>(foundSizes + (<usize>found << 2), <f32>rise);
      found++;
    }
    store<u32>(ends + (<usize>frame << 2), found);
  }
  return found;
}
