/** Rows of double numbers: what is greatest, least, or at a rank. A row is an address; places are counted in numbers. */

// @ts-ignore: decorator
@inline export function at(row: usize, n: i32): f64 { return load<f64>(row + (<usize>n << 3)); }
// @ts-ignore: decorator
@inline export function put(row: usize, n: i32, value: f64): void { store<f64>(row + (<usize>n << 3), value); }
// @ts-ignore: decorator
@inline export function isNumber(value: f64): bool { return value == value; }

/** Greatest value from one place to another, both with; those beyond the row's ends do not count. */
export function greatest(row: usize, length: i32, from: i32, to: i32): f64 {
  let most = -Infinity;
  const end = min(length - 1, to);
  for (let n = max(0, from); n <= end; n++) most = max<f64>(most, at(row, n));
  return most;
}

export function least(row: usize, length: i32, from: i32, to: i32): f64 {
  let most = Infinity;
  const end = min(length - 1, to);
  for (let n = max(0, from); n <= end; n++) most = min<f64>(most, at(row, n));
  return most;
}

// @ts-ignore: decorator
@inline function middleOfThree(a: f64, b: f64, c: f64): f64 { return max<f64>(min<f64>(a, b), min<f64>(max<f64>(a, b), c)); }

/** The value at a place of the sorted row, as core/pitch/rank.ts finds it. The row holds no NaN, and is left in another order. */
export function valueAtRank(row: usize, length: i32, rank: i32): f64 {
  let low = 0;
  let high = length - 1;
  while (low < high) {
    const pivot = middleOfThree(at(row, low), at(row, (low + high) >> 1), at(row, high));
    let i = low;
    let j = high;
    while (i <= j) {
      while (at(row, i) < pivot) i++;
      while (at(row, j) > pivot) j--;
      if (i > j) break;
      const value = at(row, i);
      put(row, i, at(row, j));
      put(row, j, value);
      i++;
      j--;
    }
    if (rank <= j) high = j;
    else if (rank >= i) low = i;
    else break;
  }
  return at(row, rank);
}

/** Median of a row without NaN, which is left in another order; NaN of none. */
export function median(row: usize, length: i32): f64 {
  if (length == 0) return NaN;
  const middle = length >> 1;
  const upper = valueAtRank(row, length, middle);
  return length % 2 == 1 ? upper : 0.5 * (valueAtRank(row, length, middle - 1) + upper);
}
