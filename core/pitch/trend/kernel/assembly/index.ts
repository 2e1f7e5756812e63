/**
 * Planes fitted to notes again and again, two at a time, one a lane, in double precision: the same sums in the same order as ../../../plane-fits.ts,
 * whose plain form is the oracle, so that the results are the same to the last bit. Addresses are bytes in memory.
 */

export { allocate } from '../../../../signal/kernel/assembly/memory';

/** The equations of the two fits: three rows of four each, a symmetric matrix with its right side. */
const equations = memory.data(192);
/** The two fits, three numbers each. */
const fits = memory.data(48);

export function fitsAt(): usize {
  return fits;
}

export function equationsAt(): usize {
  return equations;
}

function storeBoth(at: usize, pair: v128): void {
  store<f64>(equations + at, f64x2.extract_lane(pair, 0));
  store<f64>(equations + at, f64x2.extract_lane(pair, 1), 96);
}

function pairOf(at: usize): v128 {
  return f64x2.replace_lane(f64x2.splat(load<f64>(fits + at)), 1, load<f64>(fits + at, 24));
}

/**
 * Sums over `count` notes by how far off the two fits they lie; `least` in place of a bound of 0. In each fit the notes of one group are left
 * out: groups are whole numbers, -1 no group. What is left out adds nothing, which changes no sum.
 */
export function setEquations(
  first: usize, second: usize, cents: usize, groups: usize, count: i32, without: i32, without2: i32, bound: f64, least: f64,
): void {
  const base = pairOf(0);
  const perFirst = pairOf(8);
  const perSecond = pairOf(16);
  const bounds = f64x2.splat(bound);
  const leasts = f64x2.splat(least);
  const one = f64x2.splat(1);
  const out = i64x2.replace_lane(i64x2.splat(without), 1, without2);
  let all = f64x2.splat(0);
  let ofFirst = all;
  let ofSecond = all;
  let ofCents = all;
  let firstFirst = all;
  let firstSecond = all;
  let firstCents = all;
  let secondSecond = all;
  let secondCents = all;
  for (let n = 0; n < count; n++) {
    const at = <usize>n << 3;
    const x = v128.load64_splat(first + at);
    const y = v128.load64_splat(second + at);
    const value = v128.load64_splat(cents + at);
    const rest = f64x2.sub(f64x2.sub(f64x2.sub(value, base), f64x2.mul(x, perFirst)), f64x2.mul(y, perSecond));
    let weight: v128;
    if (bound == 0) weight = f64x2.div(one, f64x2.max(leasts, f64x2.abs(rest)));
    else {
      const share = f64x2.div(rest, bounds);
      const left = f64x2.sub(one, f64x2.mul(share, share));
      weight = v128.and(f64x2.mul(left, left), f64x2.lt(f64x2.abs(share), one));
    }
    weight = v128.andnot(weight, i64x2.eq(i64x2.splat(load<i32>(groups + (<usize>n << 2))), out));
    const byFirst = f64x2.mul(weight, x);
    const bySecond = f64x2.mul(weight, y);
    all = f64x2.add(all, weight);
    ofFirst = f64x2.add(ofFirst, byFirst);
    ofSecond = f64x2.add(ofSecond, bySecond);
    ofCents = f64x2.add(ofCents, f64x2.mul(weight, value));
    firstFirst = f64x2.add(firstFirst, f64x2.mul(byFirst, x));
    firstSecond = f64x2.add(firstSecond, f64x2.mul(byFirst, y));
    firstCents = f64x2.add(firstCents, f64x2.mul(byFirst, value));
    secondSecond = f64x2.add(secondSecond, f64x2.mul(bySecond, y));
    secondCents = f64x2.add(secondCents, f64x2.mul(bySecond, value));
  }
  storeBoth(0, all);
  storeBoth(8, ofFirst);
  storeBoth(16, ofSecond);
  storeBoth(24, ofCents);
  storeBoth(32, ofFirst);
  storeBoth(40, firstFirst);
  storeBoth(48, firstSecond);
  storeBoth(56, firstCents);
  storeBoth(64, ofSecond);
  storeBoth(72, firstSecond);
  storeBoth(80, secondSecond);
  storeBoth(88, secondCents);
}

/** Gauss and Jordan's elimination; used: a bit an unknown. */
function solve(m: usize, used: i32, fit: usize): void {
  const least = 1e-9 * load<f64>(m);
  for (let i: usize = 0; i < 3; i++) {
    const own = m + 32 * i;
    const pivot = load<f64>(own + 8 * i);
    const isFree = (used & (1 << <i32>i)) != 0 && pivot > least;
    // Told below, once the rows after it are done.
    store<f64>(fit + 8 * i, isFree ? 1 : 0);
    if (!isFree) continue;
    for (let j: usize = 0; j < 3; j++) {
      if (j == i) continue;
      const row = m + 32 * j;
      const share = load<f64>(row + 8 * i) / pivot;
      for (let k: usize = 0; k < 32; k += 8) store<f64>(row + k, load<f64>(row + k) - share * load<f64>(own + k));
    }
  }
  for (let i: usize = 0; i < 3; i++) {
    if (load<f64>(fit + 8 * i) == 0) continue;
    store<f64>(fit + 8 * i, load<f64>(m + 32 * i + 24) / load<f64>(m + 40 * i));
  }
}

/** So many turns of both fits from what they are. */
export function fitBoth(
  first: usize, second: usize, cents: usize, groups: usize, count: i32, without: i32, without2: i32, bound: f64, least: f64,
  used: i32, turns: i32,
): void {
  for (let turn = 0; turn < turns; turn++) {
    setEquations(first, second, cents, groups, count, without, without2, bound, least);
    solve(equations, used, fits);
    solve(equations + 96, used, fits + 24);
  }
}

/** Solves the first fit's equations. */
export function solveFirst(used: i32): void {
  solve(equations, used, fits);
}
