/** sin(pi x) / (pi x). */
function sinc(x: number): number {
  return x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
}

/** Modified Bessel function of order 0, by its series (Abramowitz & Stegun 9.6.12); to full double precision below x = 30. */
function bessel0(x: number): number {
  let sum = 1;
  let term = 1;
  for (let k = 1; term > 1e-18 * sum; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/**
 * Kaiser's beta for a stop band that lies `attenuationDb` down (50 dB or more).
 * Source: Kaiser 1974, as in Oppenheim & Schafer, Discrete-Time Signal Processing, section 7.5.3.
 */
export function kaiserBeta(attenuationDb: number): number {
  return 0.1102 * (attenuationDb - 8.7);
}

/**
 * Half of the odd phase of a half-band interpolator: the value midway between two samples is the sum over j of
 * table[j] * (x[-j] + x[1 + j]), j = 0 to half - 1. Least-squares error from 0 Hz to `edge` (part of the Nyquist frequency).
 * Source: general least squares, Laakso, Valimaki, Karjalainen & Laine 1996, "Splitting the unit delay", IEEE Signal
 * Processing Magazine 13(1). Against a Kaiser-windowed sinc of the same length it errs some 10 dB less in the band.
 */
export function makeHalfBandTable(half: number, edge: number): Float64Array {
  const rows: Float64Array[] = [];
  const table = new Float64Array(half);
  for (let i = 0; i < half; i++) {
    rows.push(Float64Array.from({ length: half }, (_, j) => 2 * (sinc(edge * (i - j)) + sinc(edge * (i + j + 1)))));
    table[i] = 2 * sinc(edge * (i + 0.5));
  }
  solveInPlace(factor(rows), table, 0);
  return table;
}

/**
 * Rows of a fractional-delay interpolator for sound that ends at `edge` of the Nyquist frequency, one row a phase: the
 * value at a place p / phases after a sample is the sum over i of table[p * taps + i] * x[i - taps / 2 + 1]. phases + 2
 * rows: phase 1 itself, and one more for interpolation past it. Least-squares error in the band; source as above.
 */
export function makeFineTable(taps: number, phases: number, edge: number): Float64Array {
  const rows: Float64Array[] = [];
  for (let i = 0; i < taps; i++) rows.push(Float64Array.from({ length: taps }, (_, j) => sinc(edge * (i - j))));
  const factors = factor(rows);
  const table = new Float64Array((phases + 2) * taps);
  for (let phase = 0; phase <= phases + 1; phase++) {
    for (let i = 0; i < taps; i++) table[phase * taps + i] = sinc(edge * (i - (taps / 2 - 1) - phase / phases));
    solveInPlace(factors, table, phase * taps);
  }
  return table;
}

/** Cholesky factor (lower triangle) of a symmetric positive definite matrix. */
function factor(rows: readonly Float64Array[]): Float64Array[] {
  const lower = rows.map((row) => row.slice());
  for (let i = 0; i < lower.length; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = lower[i]![j]!;
      for (let k = 0; k < j; k++) sum -= lower[i]![k]! * lower[j]![k]!;
      lower[i]![j] = i === j ? Math.sqrt(sum) : sum / lower[j]![j]!;
    }
  }
  return lower;
}

/** Solves for the vector that lies in `values` from `at` on, in its place. */
function solveInPlace(lower: readonly Float64Array[], values: Float64Array, at: number): void {
  const size = lower.length;
  for (let i = 0; i < size; i++) {
    let sum = values[at + i]!;
    for (let k = 0; k < i; k++) sum -= lower[i]![k]! * values[at + k]!;
    values[at + i] = sum / lower[i]![i]!;
  }
  for (let i = size - 1; i >= 0; i--) {
    let sum = values[at + i]!;
    for (let k = i + 1; k < size; k++) sum -= lower[k]![i]! * values[at + k]!;
    values[at + i] = sum / lower[i]![i]!;
  }
}

/**
 * Rows of a windowed-sinc interpolator, one a phase: the value at a place p / phases after a sample is the sum over i of
 * table[p * taps + i] * x[i - taps / 2 + 1]. phases + 2 rows: phase 1 itself, and one more for interpolation past it.
 * cutoff: where the response is halved, as a part of the input's Nyquist frequency (1 or less). Gain 1 at 0 Hz in each row.
 */
export function makeSincTable(taps: number, phases: number, beta: number, cutoff: number): Float64Array {
  const table = new Float64Array((phases + 2) * taps);
  for (let phase = 0; phase <= phases + 1; phase++) {
    let sum = 0;
    for (let i = 0; i < taps; i++) {
      const x = i - (taps / 2 - 1) - phase / phases;
      const ratio = x / (taps / 2);
      const window = Math.abs(ratio) >= 1 ? 0 : bessel0(beta * Math.sqrt(1 - ratio * ratio)) / bessel0(beta);
      const value = cutoff * sinc(cutoff * x) * window;
      table[phase * taps + i] = value;
      sum += value;
    }
    for (let i = 0; i < taps; i++) table[phase * taps + i]! /= sum;
  }
  return table;
}
