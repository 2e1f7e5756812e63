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

/** Weighted least squares again and again: one walk over the notes a turn and no array made on the way, since a long piece has a thousand turns. */
export class PlaneFits {
  readonly #rows: Rows;
  readonly #used: Used;
  /** Three rows of four: a symmetric matrix with its right side. */
  readonly #equations = new Float64Array(12);

  constructor(rows: Rows, used: Used) {
    this.#rows = rows;
    this.#used = used;
  }

  /** From a first guess; where there are groups without the notes of one of them. */
  fit(first: Fit, turns: number, bound: number, groups?: Int32Array, without = -1): Fit {
    let fit = first;
    for (let turn = 0; turn < turns; turn++) {
      setEquations(this.#equations, this.#rows, fit, bound, groups, without);
      fit = solved(this.#equations, this.#used);
    }
    return fit;
  }

  /** What least squares would say of a fit's variances, were every note a chance of its own with this variance. */
  variances(fit: Fit, bound: number, variance: number): number[] {
    return [0, 1, 2].map((at) => {
      setEquations(this.#equations, this.#rows, fit, bound, undefined, -1);
      for (let i = 0; i < 3; i++) this.#equations[4 * i + 3] = i === at ? variance : 0;
      return solved(this.#equations, this.#used)[at]!;
    });
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
