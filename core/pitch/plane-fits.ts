import { type TrendKernel, trendKernel } from './trend/kernel/trend-kernel.ts';

/** Notes as rows of an equation: cents = fit[0] + fit[1] first + fit[2] second. Rows of numbers, since fits go over them hundreds of times. */
export interface Rows {
  readonly first: Float64Array;
  readonly second: Float64Array;
  readonly cents: Float64Array;
}
export type Fit = readonly [base: number, perFirst: number, perSecond: number];
/** Which of the three are looked for; the others are 0. */
export type Used = readonly [centre: boolean, sec: boolean, key: boolean];

const LEAST_DISTANCE_CENTS = 0.5;

/** In place of a bound: least absolute distances. */
export const NEAREST = 0;

/** What a note counts by how far off a fit it lies; bound: from where on nothing, or NEAREST. */
export function weightOf(rest: number, bound: number): number {
  if (bound === NEAREST) return 1 / Math.max(LEAST_DISTANCE_CENTS, Math.abs(rest));
  const share = rest / bound;
  if (Math.abs(share) >= 1) return 0;
  const left = 1 - share * share;
  return left * left;
}

/** What is left of the notes about a fit. */
export function restOf({ first, second, cents }: Rows, [base, perFirst, perSecond]: Fit): Float64Array {
  return cents.map((value, n) => value - base - first[n]! * perFirst - second[n]! * perSecond);
}

/**
 * Weighted least squares again and again: one walk over the notes a turn, since a long piece has a thousand turns. In WebAssembly where its SIMD
 * is to be had, two fits at a time, else in plain TypeScript; both give the same to the last bit. One alone is to be at work at a time: where there
 * is a kernel, all share its memory.
 */
export interface PlaneFits {
  /** From a first guess. bound: see `weightOf`. */
  fit(first: Fit, turns: number, bound: number): Fit;
  /** One fit after the other, each without the notes of one group, 0 to count - 1. */
  fitsWithout(first: Fit, turns: number, bound: number, groups: Int32Array, count: number): Fit[];
  /** What least squares would say of a fit's variances, were every note a chance of its own with this variance. */
  variances(fit: Fit, bound: number, variance: number): number[];
}

/** kernel: null for plain TypeScript. */
export function planeFits(rows: Rows, used: Used, kernel: TrendKernel | null = trendKernel()): PlaneFits {
  return kernel === null ? new PlainFits(rows, used) : new KernelFits(kernel, rows, used);
}

/** In no group. */
const NONE = -1;

class KernelFits implements PlaneFits {
  readonly #kernel: TrendKernel;
  readonly #used: number;
  readonly #notes: number;
  /** Where the rows lie. */
  readonly #at: number;

  constructor(kernel: TrendKernel, { first, second, cents }: Rows, used: Used) {
    this.#kernel = kernel;
    this.#used = (used[0] ? 1 : 0) | (used[1] ? 2 : 0) | (used[2] ? 4 : 0);
    const notes = cents.length;
    this.#notes = notes;
    this.#at = kernel.room(notes);
    const rows = kernel.doubles(this.#at, 3 * notes);
    rows.set(first);
    rows.set(second, notes);
    rows.set(cents, 2 * notes);
  }

  fit(first: Fit, turns: number, bound: number): Fit {
    this.#groups().fill(0);
    return this.#both(first, turns, bound, NONE, NONE)[0];
  }

  fitsWithout(first: Fit, turns: number, bound: number, groups: Int32Array, count: number): Fit[] {
    this.#groups().set(groups);
    const fits: Fit[] = [];
    for (let group = 0; group < count; group += 2) {
      const [one, other] = this.#both(first, turns, bound, group, group + 1);
      fits.push(one);
      if (group + 1 < count) fits.push(other);
    }
    return fits;
  }

  variances(fit: Fit, bound: number, variance: number): number[] {
    const { run } = this.#kernel;
    const notes = this.#notes;
    this.#groups().fill(0);
    return [0, 1, 2].map((at) => {
      this.#fits().set(fit);
      const [first, second, cents, groups] = this.#places();
      run.setEquations(first, second, cents, groups, notes, NONE, NONE, bound, LEAST_DISTANCE_CENTS);
      const equations = this.#kernel.doubles(run.equationsAt(), 12);
      for (let i = 0; i < 3; i++) equations[4 * i + 3] = i === at ? variance : 0;
      run.solveFirst(this.#used);
      return this.#fits()[at]!;
    });
  }

  #both(from: Fit, turns: number, bound: number, without: number, other: number): [Fit, Fit] {
    const fits = this.#fits();
    fits.set(from);
    fits.set(from, 3);
    const [first, second, cents, groups] = this.#places();
    const least = LEAST_DISTANCE_CENTS;
    const { run } = this.#kernel;
    run.fitBoth(first, second, cents, groups, this.#notes, without, other, bound, least, this.#used, turns);
    return [
      [fits[0]!, fits[1]!, fits[2]!],
      [fits[3]!, fits[4]!, fits[5]!],
    ];
  }

  #places(): [number, number, number, number] {
    const bytes = 8 * this.#notes;
    return [this.#at, this.#at + bytes, this.#at + 2 * bytes, this.#at + 3 * bytes];
  }

  #groups(): Int32Array {
    return this.#kernel.whole(this.#at + 24 * this.#notes, this.#notes);
  }

  #fits(): Float64Array {
    return this.#kernel.doubles(this.#kernel.run.fitsAt(), 6);
  }
}

class PlainFits implements PlaneFits {
  readonly #rows: Rows;
  readonly #used: Used;
  /** Three rows of four: a symmetric matrix with its right side. */
  readonly #equations = new Float64Array(12);

  constructor(rows: Rows, used: Used) {
    this.#rows = rows;
    this.#used = used;
  }

  fit(first: Fit, turns: number, bound: number): Fit {
    return this.#fitWithout(first, turns, bound, undefined, NONE);
  }

  fitsWithout(first: Fit, turns: number, bound: number, groups: Int32Array, count: number): Fit[] {
    return Array.from({ length: count }, (_, group) => this.#fitWithout(first, turns, bound, groups, group));
  }

  variances(fit: Fit, bound: number, variance: number): number[] {
    return [0, 1, 2].map((at) => {
      setEquations(this.#equations, this.#rows, fit, bound, undefined, NONE);
      for (let i = 0; i < 3; i++) this.#equations[4 * i + 3] = i === at ? variance : 0;
      return solved(this.#equations, this.#used)[at]!;
    });
  }

  #fitWithout(first: Fit, turns: number, bound: number, groups: Int32Array | undefined, without: number): Fit {
    let fit = first;
    for (let turn = 0; turn < turns; turn++) {
      setEquations(this.#equations, this.#rows, fit, bound, groups, without);
      fit = solved(this.#equations, this.#used);
    }
    return fit;
  }
}

/** Sums of weight times row times row, and times cents, notes weighed by how far off a fit they lie. */
function setEquations(
  equations: Float64Array,
  { first, second, cents }: Rows,
  fit: Fit,
  bound: number,
  groups: Int32Array | undefined,
  without: number,
): void {
  const [base, perFirst, perSecond] = [fit[0], fit[1], fit[2]];
  let [all, ofFirst, ofSecond, ofCents] = [0, 0, 0, 0];
  let [firstFirst, firstSecond, firstCents] = [0, 0, 0];
  let [secondSecond, secondCents] = [0, 0];
  for (let n = 0; n < cents.length; n++) {
    if (groups !== undefined && groups[n] === without) continue;
    const x = first[n]!;
    const y = second[n]!;
    const value = cents[n]!;
    const weight = weightOf(value - base - x * perFirst - y * perSecond, bound);
    if (weight === 0) continue;
    const byFirst = weight * x;
    const bySecond = weight * y;
    all += weight;
    ofFirst += byFirst;
    ofSecond += bySecond;
    ofCents += weight * value;
    firstFirst += byFirst * x;
    firstSecond += byFirst * y;
    firstCents += byFirst * value;
    secondSecond += bySecond * y;
    secondCents += bySecond * value;
  }
  equations[0] = all;
  equations[1] = equations[4] = ofFirst;
  equations[2] = equations[8] = ofSecond;
  equations[3] = ofCents;
  equations[5] = firstFirst;
  equations[6] = equations[9] = firstSecond;
  equations[7] = firstCents;
  equations[10] = secondSecond;
  equations[11] = secondCents;
}

/** Gauss and Jordan's elimination, in place; an unknown that is not used, or that nothing tells of, comes out as 0. */
function solved(m: Float64Array, used: Used): Fit {
  const least = 1e-9 * m[0]!;
  let free = 0;
  for (let i = 0; i < 3; i++) {
    const pivot = m[5 * i]!;
    if (!used[i] || !(pivot > least)) continue;
    free |= 1 << i;
    for (let j = 0; j < 3; j++) {
      if (j === i) continue;
      const share = m[4 * j + i]! / pivot;
      for (let k = 0; k < 4; k++) m[4 * j + k]! -= share * m[4 * i + k]!;
    }
  }
  return [free & 1 ? m[3]! / m[0]! : 0, free & 2 ? m[7]! / m[5]! : 0, free & 4 ? m[11]! / m[10]! : 0];
}
