const EULER_GAMMA = 0.5772156649015329;

/**
 * Exponential integral E1(x), the integral of exp(-t) / t from x to infinity, to full double precision.
 * Source: Abramowitz and Stegun 1964, 5.1.11 (series, x <= 1) and 5.1.22 (continued fraction, x > 1, by Lentz's method).
 * In: x > 0. Out: 0 for Infinity; Infinity for 0.
 */
export function exponentialIntegral(x: number): number {
  if (!(x >= 0)) throw new RangeError(`x is ${x}; allowed 0 and more`);
  if (x === 0) return Number.POSITIVE_INFINITY;
  if (x === Number.POSITIVE_INFINITY) return 0;
  if (x <= 1) {
    let sum = -EULER_GAMMA - Math.log(x);
    let term = 1;
    for (let n = 1; n < 40; n++) {
      term *= -x / n;
      const part = -term / n;
      sum += part;
      if (Math.abs(part) < 1e-17 * Math.abs(sum)) break;
    }
    return sum;
  }
  let b = x + 1;
  let c = 1e300;
  let d = 1 / b;
  let h = d;
  for (let n = 1; n < 200; n++) {
    const a = -n * n;
    b += 2;
    d = 1 / (a * d + b);
    c = b + a / c;
    const change = c * d;
    h *= change;
    if (Math.abs(change - 1) < 1e-15) break;
  }
  return h * Math.exp(-x);
}

/**
 * v exp(E1(v)), so that the log-spectral gain needs neither exponential nor logarithm:
 * exp(E1(v) / 2) = sqrt(scaledExponentialIntegral(v) / v).
 * A rational function v + A(v) / B(v), fitted by iteratively weighted least squares on 1e-6 ... 1e4 to the exact values;
 * relative error below 1e-5, so below 5e-6 in the gain. exp(-Euler's constant) at 0, v from about 10 on.
 */
export function scaledExponentialIntegral(v: number): number {
  const a = 0.561454398928291 + v * (-0.14979509831357393 + v * (0.013119120483825523 - v * 0.00036169970881805795));
  const b =
    1 + v * (0.5138747027998173 + v * (0.17732282273348485 + v * (0.03135797325062365 + v * 0.007496725485472205)));
  return v + a / b;
}
