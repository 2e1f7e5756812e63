/**
 * Chance that a figure is farther from its truth than `t` of its own estimated standard deviations, to either side, where that
 * deviation was estimated with `freedom` degrees of freedom. Source: Student's t by its finite sums, Abramowitz and Stegun, Handbook of Mathematical
 * Functions, 26.7.3 and 26.7.4. t 0 and more; freedom whole, 1 and more.
 */
export function chanceBeyond(t: number, freedom: number): number {
  const angle = Math.atan2(t, Math.sqrt(freedom));
  const cosine = Math.cos(angle);
  const isOdd = freedom % 2 === 1;
  let term = isOdd ? cosine : 1;
  let sum = 0;
  for (let n = isOdd ? 1 : 0; n <= freedom - 2; n += 2) {
    sum += term;
    term *= (cosine * cosine * (n + 1)) / (n + 2);
  }
  const inside = isOdd ? (2 / Math.PI) * (angle + Math.sin(angle) * sum) : Math.sin(angle) * sum;
  return Math.max(0, 1 - inside);
}

/** More degrees of freedom hardly differ from a normal distribution. */
const MOST_FREEDOM = 400;

/** How many of its own standard deviations a figure must be from none, so that chance alone does it this rarely; see `chanceBeyond`. */
export function sureAt(chance: number, freedom: number): number {
  if (!(freedom >= 1)) return Number.POSITIVE_INFINITY;
  const whole = Math.min(MOST_FREEDOM, Math.floor(freedom));
  let low = 0;
  let high = 1;
  while (chanceBeyond(high, whole) > chance) high *= 2;
  for (let n = 0; n < 50; n++) {
    const middle = 0.5 * (low + high);
    if (chanceBeyond(middle, whole) > chance) low = middle;
    else high = middle;
  }
  return high;
}
