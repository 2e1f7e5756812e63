/** Short names for the f32x4 operations of the kernel, and the fast vector functions a gain rule needs. */

// Minimax fits by iteratively reweighted least squares (Lawson) on 4001 Chebyshev points.
const LOG2_C0: f32 = 2.88539042;
const LOG2_C1: f32 = 0.96158833;
const LOG2_C2: f32 = 0.59578072;
const EXP2_C0: f32 = 1.00000007;
const EXP2_C1: f32 = 0.69314697;
const EXP2_C2: f32 = 0.2402212;
const EXP2_C3: f32 = 0.05550713;
const EXP2_C4: f32 = 0.00967554;
const EXP2_C5: f32 = 0.00132765;

// @ts-ignore: decorator
@inline export function add(a: v128, b: v128): v128 { return f32x4.add(a, b); }
// @ts-ignore: decorator
@inline export function sub(a: v128, b: v128): v128 { return f32x4.sub(a, b); }
// @ts-ignore: decorator
@inline export function mul(a: v128, b: v128): v128 { return f32x4.mul(a, b); }
// @ts-ignore: decorator
@inline export function all(x: f32): v128 { return f32x4.splat(x); }
/** The four lanes from last to first. */
// @ts-ignore: decorator
@inline export function reversed(a: v128): v128 { return v128.shuffle<f32>(a, a, 3, 2, 1, 0); }

/**
 * log2 of four positive numbers; relative error below 1e-6 (measured 3.2e-7). Below 2^-126 (also 0) it gives -126.
 * log2(m) = (2 / ln 2) atanh((m - 1) / (m + 1)) with m in [sqrt(1/2), sqrt(2)); the series in s^2 is a minimax fit
 * (three terms, u from 0 to 0.02944, relative error 1.2e-7).
 */
// @ts-ignore: decorator
@inline export function log2(x: v128): v128 {
  const bits = f32x4.pmax(all(1.17549435e-38), x);
  const exponent = i32x4.shr_s(i32x4.sub(bits, i32x4.splat(0x3f3504f3)), 23);
  const mantissa = i32x4.sub(bits, i32x4.shl(exponent, 23));
  const s = f32x4.div(sub(mantissa, all(1)), add(mantissa, all(1)));
  const u = mul(s, s);
  let series = add(all(LOG2_C1), mul(u, all(LOG2_C2)));
  series = add(all(LOG2_C0), mul(u, series));
  return add(f32x4.convert_i32x4_s(exponent), mul(s, series));
}

/**
 * 2 to the power of four numbers; relative error below 1e-6 for -126 <= x < 127.5 (measured 2.4e-7); outside it holds the value at
 * the nearer end, so that no denormal number arises. The fraction in [-1/2, 1/2] goes through a minimax polynomial
 * of degree 5 (7.5e-8); the whole part is added to the exponent bits.
 */
// @ts-ignore: decorator
@inline export function exp2(x: v128): v128 {
  const held = f32x4.pmax(all(-126), f32x4.pmin(all(127.4999), x));
  // Adding 1.5 * 2^23 leaves the rounded number in the low bits, which saves a slow float-to-integer conversion.
  const magic = all(12582912);
  const rounded = add(held, magic);
  const f = sub(held, sub(rounded, magic));
  let series = add(all(EXP2_C4), mul(f, all(EXP2_C5)));
  series = add(all(EXP2_C3), mul(f, series));
  series = add(all(EXP2_C2), mul(f, series));
  series = add(all(EXP2_C1), mul(f, series));
  series = add(all(EXP2_C0), mul(f, series));
  return i32x4.add(series, i32x4.shl(rounded, 23));
}

/** Sum of the four lanes. */
// @ts-ignore: decorator
@inline export function lanesSum(a: v128): f32 {
  return (
    f32x4.extract_lane(a, 0) + f32x4.extract_lane(a, 1) + (f32x4.extract_lane(a, 2) + f32x4.extract_lane(a, 3))
  );
}

/** Largest of the four lanes. */
// @ts-ignore: decorator
@inline export function lanesMax(a: v128): f32 {
  return max(
    max(f32x4.extract_lane(a, 0), f32x4.extract_lane(a, 1)),
    max(f32x4.extract_lane(a, 2), f32x4.extract_lane(a, 3)),
  );
}
