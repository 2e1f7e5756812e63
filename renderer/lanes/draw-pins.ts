import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { Drawing } from './draw-lane.ts';
import { pixelOf } from './time-view.ts';

/** Half the width of a pin's head and the length of its needle, CSS pixels. */
const HEAD_PX = 4;
const NEEDLE_PX = 13;

/** The moments of a take that the user pinned: heads at the lower edge of the lane, their needles into it; session times, s. */
export function drawPins(drawing: Drawing, pins: readonly number[], top: number, height: number): void {
  const { sheet, view, palette, dpr } = drawing;
  const bottom = top + height;
  const head = Math.round(HEAD_PX * dpr);
  for (const sec of pins) {
    const x = Math.round(pixelOf(view, sec * SESSION_RATE_HZ));
    if (x < -head || x > view.widthPx + head) continue;
    sheet.fill(x, bottom - NEEDLE_PX * dpr, x + Math.max(1, Math.round(dpr)), bottom, palette.mark);
    sheet.disc(x, bottom - head - dpr, head, palette.mark);
  }
}
