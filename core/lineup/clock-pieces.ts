/** A moment that was heard: session time, the take's own time, one standard deviation, s. */
export interface ClockPoint {
  readonly atSec: number;
  readonly takeSec: number;
  readonly errorSec: number;
}

/** Points of a piece; fewer do not make one. */
const LEAST_POINTS = 3;
const MOST_BENDS = 8;
/** What a bend has to gain over the logarithm of the number of points, in nepers, besides three times that. */
const BEND_COST = 8;

/** How far the take's time is ahead of the session's, s. */
export function lag(point: ClockPoint): number {
  return point.takeSec - point.atSec;
}

/** Indexes at which new pieces begin: at the borders, and between them by dynamic programming. */
export function partition(points: readonly ClockPoint[], borders: readonly number[], scale: number): number[] {
  const sums = new LineSums(points, scale);
  const penalty = 3 * Math.log(points.length) + BEND_COST;
  const cuts = borders.slice(1).flatMap((to, n) => [...cutsWithin(sums, borders[n]!, to, penalty), to]);
  return cuts.slice(0, -1).slice(0, MOST_BENDS);
}

function cutsWithin(sums: LineSums, begin: number, end: number, penalty: number): number[] {
  const count = end - begin;
  const least = Math.min(LEAST_POINTS, count);
  const cost = new Float64Array(count + 1).fill(Number.POSITIVE_INFINITY);
  const last = new Int32Array(count + 1);
  cost[0] = -penalty;
  for (let to = least; to <= count; to++) setCheapest(sums, begin, cost, last, to, to - least, penalty);
  const cuts: number[] = [];
  for (let to = last[count]!; to > 0; to = last[to]!) cuts.unshift(begin + to);
  return cuts;
}

/** The cheapest way to `to`, from where the piece before begins: at `latest` at the latest. */
function setCheapest(
  sums: LineSums,
  begin: number,
  cost: Float64Array,
  last: Int32Array,
  to: number,
  latest: number,
  penalty: number,
): void {
  for (let from = 0; from <= latest; from++) {
    const value = cost[from]! + penalty + sums.cost(begin + from, begin + to);
    if (value < cost[to]!) {
      cost[to] = value;
      last[to] = from;
    }
  }
}

/** Half the squared residuals of the best line through any stretch of points, from running sums. */
class LineSums {
  readonly #w: Float64Array;
  readonly #t: Float64Array;
  readonly #y: Float64Array;
  readonly #tt: Float64Array;
  readonly #ty: Float64Array;
  readonly #yy: Float64Array;

  constructor(points: readonly ClockPoint[], scale: number) {
    const make = (): Float64Array => new Float64Array(points.length + 1);
    [this.#w, this.#t, this.#y, this.#tt, this.#ty, this.#yy] = [make(), make(), make(), make(), make(), make()];
    const t0 = points[0]!.atSec;
    const y0 = lag(points[0]!);
    for (let i = 0; i < points.length; i++) {
      const point = points[i]!;
      const w = 1 / (point.errorSec * scale) ** 2;
      const t = point.atSec - t0;
      const y = lag(point) - y0;
      this.#w[i + 1] = this.#w[i]! + w;
      this.#t[i + 1] = this.#t[i]! + w * t;
      this.#y[i + 1] = this.#y[i]! + w * y;
      this.#tt[i + 1] = this.#tt[i]! + w * t * t;
      this.#ty[i + 1] = this.#ty[i]! + w * t * y;
      this.#yy[i + 1] = this.#yy[i]! + w * y * y;
    }
  }

  cost(from: number, to: number): number {
    const w = this.#w[to]! - this.#w[from]!;
    const t = this.#t[to]! - this.#t[from]!;
    const y = this.#y[to]! - this.#y[from]!;
    const tt = this.#tt[to]! - this.#tt[from]! - (t * t) / w;
    const ty = this.#ty[to]! - this.#ty[from]! - (t * y) / w;
    const yy = this.#yy[to]! - this.#yy[from]! - (y * y) / w;
    return 0.5 * Math.max(0, tt > 1e-9 * w ? yy - (ty * ty) / tt : yy);
  }
}
