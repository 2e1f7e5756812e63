import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { Drawing } from './draw-lane.ts';
import type { LanePassages } from './lane-parts.ts';
import { pixelOf } from './time-view.ts';

/** Words of two joins closer than this, CSS pixels, would lie over each other. */
const WORD_PX = 62;

/**
 * Lines through a voice's lane where it changes from take to take, each with a tie over it and the take that follows. leftX: up to
 * there, device pixels, the lane's left is taken by a scale.
 */
export function drawJoins(drawing: Drawing, passages: LanePassages, top: number, height: number, leftX: number): void {
  const { sheet, view, palette, dpr, labels } = drawing;
  const y = top + Math.min(12 * dpr, height / 2);
  const write = (x: number, takeNumber: number, room: number): void => {
    if (takeNumber === 0 || room < WORD_PX * dpr) return;
    labels.push({ x: x + 6 * dpr, y, text: `take ${takeNumber}`, colour: palette.css.mark, room: 0, strong: true });
  };
  const at = passages.joins.map(({ atSec }) => Math.round(pixelOf(view, atSec * SESSION_RATE_HZ)));
  if ((at[0] ?? 0) > leftX) write(leftX, passages.firstNumber, at[0]! - leftX);
  passages.joins.forEach((join, index) => {
    const x = at[index]!;
    const next = at[index + 1] ?? view.widthPx;
    if (next > leftX) write(Math.max(leftX, x), join.takeNumber, next - Math.max(leftX, x));
    if (x < -12 * dpr || x > view.widthPx + 12 * dpr) return;
    const line = Math.max(1, Math.round(dpr));
    sheet.fill(x, top + 3 * dpr, x + line, top + height, palette.mark);
    drawTie(drawing, x, top + 2 * dpr);
  });
}

/** Where a join would go that is being moved. */
export function drawMovingJoin(drawing: Drawing, frame: number, top: number, height: number): void {
  const { sheet, view, palette, dpr } = drawing;
  const x = Math.round(pixelOf(view, frame));
  sheet.fill(x - dpr, top, x + 2 * dpr, top + height, palette.stretchEdge);
}

/** A small tie, as over two notes that sound as one. */
function drawTie({ sheet, palette, dpr }: Drawing, x: number, top: number): void {
  const reach = 8;
  for (let n = -reach; n <= reach; n++) {
    const fall = Math.round(((n * n) / (reach * reach)) * 5 * dpr);
    sheet.fill(x + n * dpr, top + fall, x + (n + 1) * dpr, top + fall + 1.6 * dpr, palette.mark);
  }
}
