/** Spectra weighed and multiplied, as ../../../cross-spectrum.ts does. */

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
