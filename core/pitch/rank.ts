/**
 * The value at a place of the sorted row (0: the least), without sorting all of it. Source: Hoare 1961, CACM 4 (FIND); the middle of three as
 * pivot. values: without NaN; they are left in another order. NaN of an empty row.
 */
export function valueAtRank(values: Float64Array, rank: number): number {
  let [low, high] = [0, values.length - 1];
  while (low < high) {
    const pivot = middleOfThree(values[low]!, values[(low + high) >> 1]!, values[high]!);
    let i = low;
    let j = high;
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i > j) break;
      const value = values[i]!;
      values[i++] = values[j]!;
      values[j--] = value;
    }
    if (rank <= j) high = j;
    else if (rank >= i) low = i;
    else break;
  }
  return values[rank] ?? Number.NaN;
}

/** Up to so many values a sort by insertion was quicker than the engine's own. */
const MOST_INSERTED = 48;

function middleOfThree(a: number, b: number, c: number): number {
  return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
}

/** Sorts the first `count` values of a row. values: without NaN. */
export function sortRow(values: Float64Array, count = values.length): void {
  if (count > MOST_INSERTED) {
    values.subarray(0, count).sort();
    return;
  }
  for (let n = 1; n < count; n++) {
    const value = values[n]!;
    let at = n;
    for (; at > 0 && values[at - 1]! > value; at--) values[at] = values[at - 1]!;
    values[at] = value;
  }
}

/** Median of the first `count` values of a row, which are left sorted; NaN of none. values: without NaN. */
export function medianOfRow(values: Float64Array, count = values.length): number {
  sortRow(values, count);
  const middle = count >> 1;
  if (count === 0) return Number.NaN;
  return count % 2 === 1 ? values[middle]! : 0.5 * (values[middle - 1]! + values[middle]!);
}
