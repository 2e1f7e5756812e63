/**
 * What looking for leakage does most, two numbers at a time in double precision: the same sums in the same order as ../../../slow-reader.ts
 * and ../../../shifted-rows.ts, whose plain forms are the oracles, so that the results are the same to the last bit. Addresses are bytes in memory.
 */

export { allocate, widen } from '../../../../signal/kernel/assembly/memory';

/**
 * Reads a line of doubles between its frames: number n of `count` lies at `start` + n * `step` frames of it. taps: rows of `count` filters, one
 * for each of `phases` parts of a frame, tapCount (even) doubles each, the first of which weighs the frame `lead` after the whole one before the place.
 */
export function readBetween(
  line: usize, start: f64, step: f64, count: i32, taps: usize, tapCount: i32, phases: i32, lead: i32, target: usize,
): void {
  const whole4 = <usize>(tapCount & ~3) << 3;
  const all = <usize>tapCount << 3;
  for (let n = 0; n < count; n++) {
    const at = start + <f64>n * step;
    let whole = floor(at);
    let phase = <i32>floor((at - whole) * <f64>phases + 0.5);
    if (phase == phases) {
      phase = 0;
      whole += 1;
    }
    let from = line + (<isize>(<i32>whole + lead) << 3);
    let tap = taps + <usize>phase * all;
    const fourEnd = tap + whole4;
    const end = tap + all;
    let ab = f64x2.splat(0);
    let cd = f64x2.splat(0);
    for (; tap < fourEnd; tap += 32, from += 32) {
      ab = f64x2.add(ab, f64x2.mul(v128.load(tap), v128.load(from)));
      cd = f64x2.add(cd, f64x2.mul(v128.load(tap, 16), v128.load(from, 16)));
    }
    let a = f64x2.extract_lane(ab, 0);
    for (; tap < end; tap += 8, from += 8) a += load<f64>(tap) * load<f64>(from);
    store<f64>(target + (<usize>n << 3), a + f64x2.extract_lane(ab, 1) + (f64x2.extract_lane(cd, 0) + f64x2.extract_lane(cd, 1)));
  }
}

/** Adds to line[from..to-1] what a row, moved, has there. */
function addStretch(line: usize, row: usize, shift: i32, width: i32, fromLag: i32, toLag: i32): void {
  const from = max(fromLag, -shift);
  const to = min(toLag, width - shift);
  for (let lag = from; lag < to; lag++) {
    const at = line + (<usize>lag << 3);
    store<f64>(at, load<f64>(at) + load<f64>(row + (<isize>(lag + shift) << 3)));
  }
}

/** Adds `count` rows of `width` doubles, one behind the other, to a line as wide; lag l of it gets lag l + shifts[i] of row i. */
export function addShifted(line: usize, rows: usize, shifts: usize, count: i32, width: i32): void {
  const rowBytes = <usize>width << 3;
  let i = 0;
  for (; i + 3 < count; i += 4, rows += 4 * rowBytes, shifts += 16) {
    const shiftA = load<i32>(shifts);
    const shiftB = load<i32>(shifts, 4);
    const shiftC = load<i32>(shifts, 8);
    const shiftD = load<i32>(shifts, 12);
    // Where all four reach.
    const from = min(width, max(0, -min(min(shiftA, shiftB), min(shiftC, shiftD))));
    const to = max(from, width - max(0, max(max(shiftA, shiftB), max(shiftC, shiftD))));
    const a = rows + (<isize>shiftA << 3);
    const b = rows + rowBytes + (<isize>shiftB << 3);
    const c = rows + 2 * rowBytes + (<isize>shiftC << 3);
    const d = rows + 3 * rowBytes + (<isize>shiftD << 3);
    let at = <usize>from << 3;
    const pairsEnd = at + (<usize>((to - from) & ~1) << 3);
    for (; at < pairsEnd; at += 16) {
      const ab = f64x2.add(v128.load(a + at), v128.load(b + at));
      const cd = f64x2.add(v128.load(c + at), v128.load(d + at));
      v128.store(line + at, f64x2.add(v128.load(line + at), f64x2.add(ab, cd)));
    }
    if (at < <usize>to << 3) {
      const sum = load<f64>(a + at) + load<f64>(b + at) + (load<f64>(c + at) + load<f64>(d + at));
      store<f64>(line + at, load<f64>(line + at) + sum);
    }
    for (let n = 0; n < 4; n++) {
      const shift = load<i32>(shifts + (<usize>n << 2));
      addStretch(line, rows + <usize>n * rowBytes, shift, width, 0, from);
      addStretch(line, rows + <usize>n * rowBytes, shift, width, to, width);
    }
  }
  for (; i < count; i++, rows += rowBytes, shifts += 4) addStretch(line, rows, load<i32>(shifts), width, 0, width);
}

/**
 * Powers of bins 0 to `to` - 1 of a spectrum of `bins`, each the mean over the thirteen bins around it, to `power`; single powers go to `single`,
 * both of which have room for bins + 1 numbers.
 */
export function smoothPower(re: usize, im: usize, bins: i32, to: i32, single: usize, power: usize): void {
  const heard = min(bins, to + 6);
  for (let k = 0; k < heard; k += 2) {
    const at = <usize>k << 3;
    const a = v128.load(re + at);
    const b = v128.load(im + at);
    v128.store(single + at, f64x2.add(f64x2.mul(a, a), f64x2.mul(b, b)));
  }
  let sum: f64 = 0;
  for (let k = 0; k < 6; k++) sum += load<f64>(single + (<usize>k << 3));
  for (let k = 0; k < to; k++) {
    const at = <usize>k << 3;
    if (k + 6 < bins) sum += load<f64>(single + at, 48);
    store<f64>(power + at, max<f64>(sum, 0) / 13);
    if (k >= 6) sum -= load<f64>(single + at - 48);
  }
}

/**
 * From bin `low` on, `count` (and one more, where that is odd) bins of a spectrum times those of another turned round, singleRe and singleIm in single
 * precision from its first on, each over its smoothed power, to the same bins of a target.
 */
export function weighCross(
  re: usize, im: usize, power: usize, low: i32, count: i32, singleRe: usize, singleIm: usize, targetRe: usize, targetIm: usize,
): void {
  const least = f64x2.splat(1e-12);
  const one = f64x2.splat(1);
  for (let n = 0; n < count; n += 2) {
    const at = <usize>(low + n) << 3;
    const weight = f64x2.div(one, f64x2.add(v128.load(power + at), least));
    const gRe = f64x2.promote_low_f32x4(v128.load64_zero(singleRe + (<usize>n << 2)));
    const gIm = f64x2.promote_low_f32x4(v128.load64_zero(singleIm + (<usize>n << 2)));
    const a = v128.load(re + at);
    const b = v128.load(im + at);
    v128.store(targetRe + at, f64x2.mul(weight, f64x2.add(f64x2.mul(a, gRe), f64x2.mul(b, gIm))));
    v128.store(targetIm + at, f64x2.mul(weight, f64x2.sub(f64x2.mul(b, gRe), f64x2.mul(a, gIm))));
  }
}
