import { type Box, evenPx, type Size } from '../../../core/picture/canvas.ts';
import { LARGEST_ZOOM } from '../../../core/picture/crop.ts';
import { type SnapOptions, type Snapped, snapMoved, snapResized } from '../../../core/picture/snap.ts';
import { type PictureTile, tileAt } from './picture-model.ts';

/** How near an edge must come to a line to lie on it, px of the screen. */
const REACH_PX = 8;
/** What arrow keys move, px of the canvas. */
export const KEY_STEP_PX = 16;

/** What a drag does to a tile: it is carried, or its right lower corner is drawn. */
export type DragKind = 'carry' | 'resize';

/** How far a drag has come, and how it was meant. */
export interface DragMove {
  /** Since it began, px of the canvas. */
  readonly byX: number;
  readonly byY: number;
  /** Where the pointer is, px of the canvas. */
  readonly atX: number;
  readonly atY: number;
  /** px of the screen a px of the canvas. */
  readonly scale: number;
  /** Without snapping and without changing places. */
  readonly isFree: boolean;
  readonly keepsShape: boolean;
}

/** Where a drag would leave a tile, and what it would do if it ended now. */
export interface DragNow {
  readonly snapped: Snapped;
  /** The tile it would change places with. */
  readonly swapsWith: PictureTile | null;
}

/** A drag on its way. */
export function dragNow(
  kind: DragKind,
  tile: PictureTile,
  tiles: readonly PictureTile[],
  canvas: Size,
  gapPx: number,
  move: DragMove,
): DragNow {
  const { box } = tile;
  const others = tiles.filter(({ voiceId }) => voiceId !== tile.voiceId).map((other) => other.box);
  // Thirds beside what snapping knows by itself: halves, edges, other tiles.
  const thirds: Box[] = [1, 2].map((n) => ({
    xPx: evenPx((n * canvas.widthPx) / 3),
    yPx: evenPx((n * canvas.heightPx) / 3),
    widthPx: 0,
    heightPx: 0,
  }));
  const reachPx = move.isFree ? 0 : REACH_PX / move.scale;
  const options: SnapOptions = { canvas, others: [...others, ...thirds], gapPx, reachPx };
  if (kind === 'resize') {
    const wanted = { ...box, widthPx: box.widthPx + move.byX, heightPx: box.heightPx + move.byY };
    return { snapped: snapResized(wanted, options, move.keepsShape), swapsWith: null };
  }
  const snapped = snapMoved({ ...box, xPx: box.xPx + move.byX, yPx: box.yPx + move.byY }, options);
  const below = tileAt(tiles, move.atX, move.atY, tile.voiceId);
  // Let go in the middle of another tile, the two change places; near its edge they lie over one another.
  const swapsWith = below !== undefined && isInMiddle(below.box, move.atX, move.atY) && !move.isFree ? below : null;
  return { snapped, swapsWith };
}

function isInMiddle(box: Box, x: number, y: number): boolean {
  return (
    Math.abs(x - box.xPx - box.widthPx / 2) < 0.35 * box.widthPx &&
    Math.abs(y - box.yPx - box.heightPx / 2) < 0.35 * box.heightPx
  );
}

/** A tile moved by keys: it stays on the canvas. */
export function movedBy(box: Box, canvas: Size, dx: number, dy: number): Box {
  return {
    ...box,
    xPx: evenPx(Math.max(0, Math.min(canvas.widthPx - box.widthPx, box.xPx + dx))),
    yPx: evenPx(Math.max(0, Math.min(canvas.heightPx - box.heightPx, box.yPx + dy))),
  };
}

/** A tile made larger or smaller at its right lower corner by keys. */
export function resizedBy(box: Box, canvas: Size, dx: number, dy: number): Box {
  const least = 32;
  return {
    ...box,
    widthPx: evenPx(Math.max(least, Math.min(canvas.widthPx - box.xPx, box.widthPx + dx))),
    heightPx: evenPx(Math.max(least, Math.min(canvas.heightPx - box.yPx, box.heightPx + dy))),
  };
}

/** The next tile in reading direction from one, for changing places by keys; undefined where there is none. */
export function neighbourOf(
  tile: PictureTile,
  tiles: readonly PictureTile[],
  dx: number,
  dy: number,
): PictureTile | undefined {
  const middle = ({ box }: PictureTile): [number, number] => [box.xPx + box.widthPx / 2, box.yPx + box.heightPx / 2];
  const [x, y] = middle(tile);
  const along = (other: PictureTile): number => {
    const [otherX, otherY] = middle(other);
    return (otherX - x) * dx + (otherY - y) * dy;
  };
  const aside = (other: PictureTile): number => {
    const [otherX, otherY] = middle(other);
    return Math.abs((otherX - x) * dy) + Math.abs((otherY - y) * dx);
  };
  return tiles
    .filter((other) => other !== tile && along(other) > 1)
    .toSorted((one, other) => along(one) + 2 * aside(one) - along(other) - 2 * aside(other))[0];
}

/** A zoom within its bounds, to 0.05. */
export function heldZoom(zoom: number): number {
  return Math.round(20 * Math.max(1, Math.min(LARGEST_ZOOM, zoom))) / 20;
}
