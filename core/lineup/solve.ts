/**
 * Solves A x = b and inverts A, for a symmetric positive A of few rows (Gauss and Jordan with pivots on the diagonal). A
 * direction of which A knows nothing gets a value of 0. matrix and right are not kept.
 */
export function solveSymmetric(
  matrix: readonly Float64Array[],
  right: Float64Array,
): { readonly values: Float64Array; readonly inverse: readonly Float64Array[] } {
  const size = right.length;
  // Scaled to a diagonal of ones, since seconds and drifts differ by many orders.
  const scale = Float64Array.from(matrix, (row, i) => 1 / Math.sqrt(Math.max(row[i]!, 1e-300)));
  const rows = matrix.map((row, i) => {
    const wide = new Float64Array(2 * size);
    for (let k = 0; k < size; k++) wide[k] = row[k]! * scale[i]! * scale[k]!;
    wide[size + i] = 1;
    return wide;
  });
  for (let i = 0; i < size; i++) {
    const pivot = rows[i]![i]!;
    if (pivot < 1e-12) {
      for (const row of rows) row[i] = 0;
      rows[i]!.fill(0);
      continue;
    }
    for (let k = 0; k < 2 * size; k++) rows[i]![k]! /= pivot;
    for (let j = 0; j < size; j++) {
      const factor = rows[j]![i]!;
      if (j === i || factor === 0) continue;
      for (let k = 0; k < 2 * size; k++) rows[j]![k]! -= factor * rows[i]![k]!;
    }
  }
  const inverse = rows.map((row, i) =>
    Float64Array.from(row.subarray(size), (value, k) => value * scale[i]! * scale[k]!),
  );
  const values = Float64Array.from(inverse, (row) => row.reduce((sum, value, k) => sum + value * right[k]!, 0));
  return { values, inverse };
}
