/** A row at a fractional place, by Catmull and Rom's cubic; 0 outside it. */
export function cubicAt(row: Float64Array, at: number): number {
  const whole = Math.floor(at);
  if (whole < 1 || whole + 2 >= row.length) return 0;
  const t = at - whole;
  const a = row[whole - 1]!;
  const b = row[whole]!;
  const c = row[whole + 1]!;
  const d = row[whole + 2]!;
  return b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)));
}
