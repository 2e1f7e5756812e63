import { type Box, evenBelowPx } from '../canvas.ts';
import { boxInCell, countsUpTo, evenRuns, share } from './shares.ts';

interface RankOptions {
  readonly gapPx: number;
  readonly mostCrop: number;
  readonly leadIndex?: number | undefined;
}

/** How much higher a rank is than the one behind it: near is large. */
const NEARER = 1.18;
/** Width to height to which a clip is cut in a rank at most: singers standing, not landscapes. */
const WIDEST = 4 / 3;

/**
 * Ranks like a choir: rows that grow towards the front, each centred, with fewer tiles in front; the top voices stand
 * behind. Tiles in a rank are of one height and as wide as their clips, or narrower by what may be cut off.
 */
export function ranks(area: Box, aspects: readonly number[], options: RankOptions): Box[][] {
  const keep = Math.max(1e-3, 1 - options.mostCrop);
  const shapes = aspects.map((aspect) => Math.max(aspect * keep, Math.min(aspect, WIDEST)));
  return countsUpTo(Math.min(aspects.length, 8)).map((count) => stand(area, shapes, count, options));
}

function stand(area: Box, shapes: readonly number[], count: number, { gapPx, mostCrop }: RankOptions): Box[] {
  // Weights grow along the list, so that later runs, the ranks in front, hold fewer.
  const weights = shapes.map((shape, index) => shape * NEARER ** ((index * count) / shapes.length));
  const runs = evenRuns(weights, count);
  const heights = share(
    area.yPx,
    area.heightPx,
    gapPx,
    runs.map((_, rank) => NEARER ** rank),
  );
  const boxes: Box[] = [];
  let at = 0;
  for (const [rank, run] of runs.entries()) {
    const row = shapes.slice(at, at + run);
    at += run;
    const { fromPx, lengthPx } = heights[rank]!;
    const sum = row.reduce((total, shape) => total + shape, 0);
    const widthPx = Math.min(area.widthPx, evenBelowPx(lengthPx * sum) + gapPx * (run - 1));
    const xPx = area.xPx + evenBelowPx((area.widthPx - widthPx) / 2);
    for (const [index, part] of share(xPx, widthPx, gapPx, row).entries()) {
      const cell = { xPx: part.fromPx, yPx: fromPx, widthPx: part.lengthPx, heightPx: lengthPx };
      boxes.push(boxInCell(cell, row[index]!, mostCrop));
    }
  }
  return boxes;
}
