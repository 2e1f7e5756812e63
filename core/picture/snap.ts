import { type Box, evenPx, type Size } from './canvas.ts';

/** A line that a dragged tile came to lie on, for showing it, px. */
export interface SnapLine {
  readonly axis: 'x' | 'y';
  readonly atPx: number;
}

export interface Snapped {
  readonly box: Box;
  readonly lines: readonly SnapLine[];
}

export interface SnapOptions {
  readonly canvas: Size;
  readonly others: readonly Box[];
  /** Distance that is kept between tiles and to the edge, px. */
  readonly gapPx: number;
  /** Within this, an edge goes to a line, px. */
  readonly reachPx: number;
}

/** Smallest tile that can be made by hand, px. */
export const SMALLEST_BY_HAND_PX = 32;

/**
 * Where a tile lands that is dropped at a place: its edges and middle go to the canvas's edges and middle and to the other
 * tiles' edges (with and without the gap) when they are within reach; then it is brought onto the canvas and to even px.
 * The size stays. Pure.
 */
export function snapMoved(box: Box, options: SnapOptions): Snapped {
  const across = nearest([box.xPx, box.xPx + box.widthPx, box.xPx + box.widthPx / 2], linesOf(options, 'x'), options);
  const down = nearest([box.yPx, box.yPx + box.heightPx, box.yPx + box.heightPx / 2], linesOf(options, 'y'), options);
  const { canvas } = options;
  const widthPx = Math.min(canvas.widthPx, evenPx(box.widthPx));
  const heightPx = Math.min(canvas.heightPx, evenPx(box.heightPx));
  const xPx = evenPx(Math.min(canvas.widthPx - widthPx, Math.max(0, box.xPx + across.byPx)));
  const yPx = evenPx(Math.min(canvas.heightPx - heightPx, Math.max(0, box.yPx + down.byPx)));
  return { box: { xPx, yPx, widthPx, heightPx }, lines: linesSeen(across, down) };
}

/**
 * The same for a tile whose right and lower edge are drawn; `keepAspect` keeps its shape by its width. Pure.
 */
export function snapResized(box: Box, options: SnapOptions, keepAspect: boolean): Snapped {
  const { canvas } = options;
  const across = nearest([box.xPx + box.widthPx], linesOf(options, 'x'), options);
  const down = nearest([box.yPx + box.heightPx], linesOf(options, 'y'), options);
  const mostX = canvas.widthPx - box.xPx;
  const mostY = canvas.heightPx - box.yPx;
  let widthPx = evenPx(Math.min(mostX, Math.max(SMALLEST_BY_HAND_PX, box.widthPx + across.byPx)));
  let heightPx = evenPx(Math.min(mostY, Math.max(SMALLEST_BY_HAND_PX, box.heightPx + down.byPx)));
  if (keepAspect) {
    const aspect = box.widthPx / box.heightPx;
    widthPx = Math.min(widthPx, evenPx(mostY * aspect));
    heightPx = Math.max(2, Math.min(mostY, evenPx(widthPx / aspect)));
  }
  return { box: { ...box, widthPx, heightPx }, lines: linesSeen(across, keepAspect ? { byPx: 0 } : down) };
}

interface Pull {
  readonly byPx: number;
  readonly line?: SnapLine;
}

function nearest(edges: readonly number[], lines: readonly SnapLine[], { reachPx }: SnapOptions): Pull {
  let pull: Pull = { byPx: 0 };
  let least = reachPx;
  for (const line of lines) {
    for (const edge of edges) {
      const off = Math.abs(line.atPx - edge);
      if (off > least || (off === least && pull.line !== undefined)) continue;
      least = off;
      pull = { byPx: line.atPx - edge, line };
    }
  }
  return pull;
}

function linesOf({ canvas, others, gapPx }: SnapOptions, axis: 'x' | 'y'): SnapLine[] {
  const side = axis === 'x' ? canvas.widthPx : canvas.heightPx;
  const places = [0, gapPx, side / 2, side - gapPx, side];
  for (const other of others) {
    const from = axis === 'x' ? other.xPx : other.yPx;
    const to = from + (axis === 'x' ? other.widthPx : other.heightPx);
    places.push(from, from - gapPx, to, to + gapPx);
  }
  return places.map((atPx) => ({ axis, atPx }));
}

function linesSeen(across: Pull, down: Pull): SnapLine[] {
  return [across.line, down.line].filter((line) => line !== undefined);
}
