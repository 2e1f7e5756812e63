import type { Box } from '../canvas.ts';
import { boxInCell, countsUpTo, evenRuns, type Stretch, share } from './shares.ts';

interface RowOptions {
  readonly gapPx: number;
  readonly mostCrop: number;
}

/**
 * Rows that fill an area, two ways for each number of rows: tiles of one width in rows of one height, and tiles as wide as
 * their clips are in rows as high as these make them. A tile whose cell would cut off too much of its clip is made
 * smaller.
 */
export function rows(area: Box, aspects: readonly number[], options: RowOptions): Box[][] {
  const ways: Box[][] = [];
  for (const count of countsUpTo(aspects.length)) {
    ways.push(fill(area, aspects, runsOf(aspects, count, true), options, true));
    ways.push(fill(area, aspects, runsOf(aspects, count, false), options, false));
  }
  return ways;
}

/** How many tiles each row holds. */
function runsOf(aspects: readonly number[], count: number, alike: boolean): number[] {
  return evenRuns(alike ? aspects.map(() => 1) : aspects, count);
}

function fill(
  area: Box,
  aspects: readonly number[],
  runs: readonly number[],
  { gapPx, mostCrop }: RowOptions,
  alike: boolean,
): Box[] {
  const parts: number[][] = [];
  let at = 0;
  for (const run of runs) {
    parts.push(aspects.slice(at, at + run));
    at += run;
  }
  const weights = parts.map((part) => (alike ? 1 : naturalHeight(area.widthPx - gapPx * (part.length - 1), part)));
  const heights = share(area.yPx, area.heightPx, gapPx, weights);
  return parts.flatMap((part, row) => {
    const widths = share(area.xPx, area.widthPx, gapPx, alike ? part.map(() => 1) : part);
    return part.map((aspect, column) => boxInCell(cellOf(widths[column]!, heights[row]!), aspect, mostCrop));
  });
}

/** Height at which clips side by side fill a width uncut. */
function naturalHeight(widthPx: number, aspects: readonly number[]): number {
  return Math.max(1, widthPx) / aspects.reduce((sum, aspect) => sum + aspect, 0);
}

/** The cell where a column meets a row. */
export function cellOf(across: Stretch, down: Stretch): Box {
  return { xPx: across.fromPx, yPx: down.fromPx, widthPx: across.lengthPx, heightPx: down.lengthPx };
}
