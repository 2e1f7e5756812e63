/**
 * Solves A x = b and inverts A, for a symmetric positive A of few rows (Gauss and Jordan with pivots on the diagonal). A
 * direction of which A knows nothing gets a value of 0. matrix and right are not kept.
 */
export function solveSymmetric(
  matrix: readonly Float64Array[],
  right: Float64Array,
): { readonly values: Float64Array; readonly inverse: readonly Float64Array[] } {
  const size = right.length;
  const width = 2 * size;
  // Scaled to a diagonal of ones, since seconds and drifts differ by many orders.
  const scale = new Float64Array(size);
  for (let i = 0; i < size; i++) scale[i] = 1 / Math.sqrt(Math.max(matrix[i]![i]!, 1e-300));
  // The matrix and beside it, at first, one that changes nothing.
  const rows = new Float64Array(size * width);
  for (let i = 0; i < size; i++) {
    const row = matrix[i]!;
    for (let k = 0; k < size; k++) rows[i * width + k] = row[k]! * scale[i]! * scale[k]!;
    rows[i * width + size + i] = 1;
  }
  for (let i = 0; i < size; i++) takeOut(rows, width, i);
  const inverse: Float64Array[] = [];
  const values = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    const row = new Float64Array(size);
    let value = 0;
    for (let k = 0; k < size; k++) {
      row[k] = rows[i * width + size + k]! * scale[i]! * scale[k]!;
      value += row[k]! * right[k]!;
    }
    inverse.push(row);
    values[i] = value;
  }
  return { values, inverse };
}

/** Makes column i that of a matrix that changes nothing. */
function takeOut(rows: Float64Array, width: number, i: number): void {
  const own = i * width;
  const pivot = rows[own + i]!;
  if (pivot < 1e-12) {
    for (let at = i; at < rows.length; at += width) rows[at] = 0;
    rows.fill(0, own, own + width);
    return;
  }
  for (let k = 0; k < width; k++) rows[own + k]! /= pivot;
  for (let from = 0; from < rows.length; from += width) {
    const factor = rows[from + i]!;
    if (from === own || factor === 0) continue;
    for (let k = 0; k < width; k++) rows[from + k]! -= factor * rows[own + k]!;
  }
}
