import { type Box, EVEN_PX, evenBelowPx, evenPx } from '../canvas.ts';

/** A stretch along one side of the canvas, px. */
export interface Stretch {
  readonly fromPx: number;
  readonly lengthPx: number;
}

/**
 * Cuts a length into even parts in the proportion of `weights`, with gaps between, that together fill it but for what an
 * odd length leaves over. Rounding does not add up: each edge is the rounded true one.
 */
export function share(fromPx: number, lengthPx: number, gapPx: number, weights: readonly number[]): Stretch[] {
  const room = evenBelowPx(lengthPx) - gapPx * (weights.length - 1);
  const sum = weights.reduce((total, weight) => total + weight, 0);
  const parts: Stretch[] = [];
  let passed = 0;
  let edge = 0;
  for (const [index, weight] of weights.entries()) {
    passed += weight;
    const next = evenPx((room * passed) / sum);
    parts.push({ fromPx: fromPx + edge + index * gapPx, lengthPx: next - edge });
    edge = next;
  }
  return parts;
}

/**
 * The box for a clip inside its cell: all of the cell where that cuts off no more than `mostCrop` of the clip, else the
 * largest box in its middle that does not. A cell without room gives a box without area.
 */
export function boxInCell(cell: Box, aspect: number, mostCrop: number): Box {
  if (cell.widthPx <= 0 || cell.heightPx <= 0) return { ...cell, widthPx: 0, heightPx: 0 };
  const shape = cell.widthPx / cell.heightPx;
  const keep = Math.max(1e-3, 1 - mostCrop);
  const widthPx = Math.max(
    EVEN_PX,
    shape > aspect / keep ? evenBelowPx((cell.heightPx * aspect) / keep) : cell.widthPx,
  );
  const heightPx = Math.max(
    EVEN_PX,
    shape < aspect * keep ? evenBelowPx(cell.widthPx / (aspect * keep)) : cell.heightPx,
  );
  return {
    xPx: cell.xPx + evenBelowPx((cell.widthPx - widthPx) / 2),
    yPx: cell.yPx + evenBelowPx((cell.heightPx - heightPx) / 2),
    widthPx,
    heightPx,
  };
}

/** Numbers from 1 to `count` that differ: all of them for few, else some spread over the range. */
export function countsUpTo(count: number): number[] {
  const all = Array.from({ length: count }, (_, index) => index + 1);
  // A tiling has at most some square root of rows or as many columns; the rest never costs least.
  return all.length <= 40 ? all : all.filter((value) => value <= 40);
}

/**
 * Cuts a list into `parts` runs whose sums are as even as can be (least sum of squares). Gives the length of each.
 * Dynamic programming over prefix sums: parts * count^2 steps.
 */
export function evenRuns(weights: readonly number[], parts: number): number[] {
  const count = weights.length;
  const prefix = [0];
  for (const weight of weights) prefix.push(prefix.at(-1)! + weight);
  let costs = prefix.map((sum) => sum * sum);
  costs[0] = 0;
  const cuts: number[][] = [];
  for (let part = 2; part <= parts; part++) {
    const next: number[] = new Array<number>(count + 1).fill(Number.POSITIVE_INFINITY);
    const from: number[] = new Array<number>(count + 1).fill(0);
    for (let end = part; end <= count; end++) {
      for (let cut = part - 1; cut < end; cut++) {
        const run = prefix[end]! - prefix[cut]!;
        const cost = costs[cut]! + run * run;
        if (cost < next[end]! - 1e-12) {
          next[end] = cost;
          from[end] = cut;
        }
      }
    }
    cuts.push(from);
    costs = next;
  }
  const lengths: number[] = [];
  let end = count;
  for (let part = parts; part >= 2; part--) {
    const cut = cuts[part - 2]![end]!;
    lengths.unshift(end - cut);
    end = cut;
  }
  lengths.unshift(end);
  return lengths;
}
