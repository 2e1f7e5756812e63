import { medianOf, spreadOf } from './pitch-span.ts';

/** y = centre + slope (x - middle). */
export interface RobustLine {
  readonly slope: number;
  readonly slopeUncertainty: number;
  readonly middle: number;
  readonly centre: number;
  readonly centreUncertainty: number;
  /** Robust standard deviation of what is left. */
  readonly spread: number;
}

/** More points are thinned evenly: the pairs grow with their square. */
const MOST_POINTS = 400;

/**
 * A line through points of which some are far out: Theil and Sen's, the median of the slopes of all pairs, each weighted by
 * its distance. Source: Sen 1968, JASA 63. Uncertainties are those of least squares from the robust spread. Undefined for
 * fewer than three points or no width.
 */
export function robustLine(points: readonly (readonly [x: number, y: number])[]): RobustLine | undefined {
  const step = Math.max(1, Math.ceil(points.length / MOST_POINTS));
  const used = points.filter((_, index) => index % step === 0);
  if (used.length < 3) return undefined;
  const middle = used.reduce((sum, [x]) => sum + x, 0) / used.length;
  const width = Math.sqrt(used.reduce((sum, [x]) => sum + (x - middle) ** 2, 0));
  if (!(width > 1e-9)) return undefined;
  const slopes: { slope: number; weight: number }[] = [];
  for (let i = 0; i < used.length; i++) {
    for (let j = i + 1; j < used.length; j++) {
      const way = used[j]![0] - used[i]![0];
      if (way !== 0) slopes.push({ slope: (used[j]![1] - used[i]![1]) / way, weight: Math.abs(way) });
    }
  }
  const slope = weightedMedian(
    slopes.map((one) => one.slope),
    slopes.map((one) => one.weight),
  );
  const level = used.map(([x, y]) => y - slope * (x - middle));
  const centre = medianOf(level);
  const spread = spreadOf(level, centre);
  return {
    slope,
    slopeUncertainty: spread / width,
    middle,
    centre,
    centreUncertainty: (1.2533 * spread) / Math.sqrt(used.length),
    spread,
  };
}

/** The value with half of the weight on each side; NaN of none. */
export function weightedMedian(values: readonly number[], weights: readonly number[]): number {
  const order = values.map((_, index) => index).sort((a, b) => values[a]! - values[b]!);
  const half = weights.reduce((sum, weight) => sum + weight, 0) / 2;
  let sum = 0;
  for (const [at, index] of order.entries()) {
    sum += weights[index]!;
    if (sum > half) return values[index]!;
    if (sum === half) return 0.5 * (values[index]! + values[order[at + 1] ?? index]!);
  }
  return Number.NaN;
}
