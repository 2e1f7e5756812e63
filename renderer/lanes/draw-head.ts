import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { drawBarLines, drawBarNumbers } from './draw-bars.ts';
import { type Drawing, drawLane, type LaneLook } from './draw-lane.ts';
import type { Scene } from './lane-scene.ts';
import { ticksBetween } from './ruler.ts';
import { frameAt, pixelOf } from './time-view.ts';

/** Heights of the fixed rows on top, CSS pixels: times, bar numbers where there are bars, the guide. */
export const RULER_PX = 26;
export const BARS_PX = 18;
export const GUIDE_PX = 46;
export const NO_GUIDE_PX = 26;

export function headHeightPx(scene: Scene): number {
  return RULER_PX + (scene.bars.length > 0 ? BARS_PX : 0) + guideHeightPx(scene);
}

/** The height of the guide's own row. */
export function guideHeightPx(scene: Scene | undefined): number {
  return scene === undefined || (scene.guide.wave === null && scene.guide.words === null) ? NO_GUIDE_PX : GUIDE_PX;
}

/** The stretch that is played again and again, session frames. */
export interface Repeat {
  readonly fromFrame: number;
  readonly toFrame: number;
}

/** The ruler with its times, the bar numbers and the guide line, on the fixed rows on top. */
export function drawHead(drawing: Drawing, scene: Scene, look: LaneLook, loop: Repeat | null): void {
  const { sheet, view, palette, dpr, labels } = drawing;
  const ruler = RULER_PX * dpr;
  const head = headHeightPx(scene) * dpr;
  const barsPx = scene.bars.length > 0 ? BARS_PX * dpr : 0;
  sheet.clip(0, head);
  sheet.fill(0, 0, view.widthPx, ruler + barsPx, palette.paper);
  if (scene.mixSpan !== null) {
    const left = pixelOf(view, scene.mixSpan.fromSec * SESSION_RATE_HZ);
    const right = pixelOf(view, scene.mixSpan.toSec * SESSION_RATE_HZ);
    sheet.fill(left, ruler - 4 * dpr, right, ruler - dpr, palette.edge);
  }
  const secPerPx = view.framesPerPx / SESSION_RATE_HZ;
  const ticks = ticksBetween(
    frameAt(view, -90 * dpr) / SESSION_RATE_HZ,
    frameAt(view, view.widthPx) / SESSION_RATE_HZ,
    secPerPx,
    84 * dpr,
  );
  const line = Math.max(1, Math.round(dpr));
  for (const { sec, label } of ticks) {
    const x = Math.round(pixelOf(view, sec * SESSION_RATE_HZ));
    sheet.fill(
      x,
      ruler - (label === null ? 5 : 11) * dpr,
      x + line,
      ruler,
      label === null ? palette.edge : palette.faint,
    );
    if (label !== null) {
      labels.push({ x: x + 4 * dpr, y: 10 * dpr, text: label, colour: palette.css.faint, room: 0, strong: false });
    }
  }
  sheet.fill(0, ruler - line, view.widthPx, ruler, palette.edge);
  if (loop !== null) drawRepeat(drawing, loop, ruler);
  drawBarNumbers(drawing, scene, ruler, barsPx);
  drawLane(drawing, scene.guide, ruler + barsPx, head - ruler - barsPx, look);
  drawBarLines(drawing, scene, ruler + barsPx, head);
  // A guide with a plan has its own words at the bottom.
  const hasWords = scene.guide.shades !== undefined;
  writeOutside(drawing, scene, hasWords ? ruler + barsPx + 9 * dpr : head - 8 * dpr);
  sheet.fill(0, head - line, view.widthPx, head, palette.edge);
}

/** Says on the guide line, on both sides, what does not sound in the mix. */
export function writeOutside(drawing: Drawing, scene: Scene, y: number): void {
  const { view, palette, dpr, labels } = drawing;
  if (scene.mixSpan === null) return;
  const begin = pixelOf(view, scene.mixSpan.fromSec * SESSION_RATE_HZ);
  const end = pixelOf(view, scene.mixSpan.toSec * SESSION_RATE_HZ);
  const text = 'not in the mix';
  const colour = palette.css.faint;
  // The words of claps and cues stand on the same line, from a little left of the clap on.
  const claps = (scene.guide.shades ?? []).flatMap(({ clapSec }) =>
    clapSec === null ? [] : [pixelOf(view, clapSec * SESSION_RATE_HZ) - 8 * dpr],
  );
  const firstFrom = (x: number): number => Math.min(view.widthPx, ...claps.filter((clap) => clap > x));
  const before = Math.min(begin, firstFrom(0)) - 10 * dpr;
  if (before > 0) labels.push({ x: 6 * dpr, y, text, colour, room: before, strong: false });
  const from = Math.max(0, end);
  const after = firstFrom(from) - from - 10 * dpr;
  if (after > 0) labels.push({ x: from + 6 * dpr, y, text, colour, room: after, strong: false });
}

/** Repeat signs of a score around the repeated stretch: thick line, thin line, two dots. */
function drawRepeat(drawing: Drawing, loop: Repeat, ruler: number): void {
  const { sheet, view, palette, dpr } = drawing;
  const top = 3 * dpr;
  const left = pixelOf(view, loop.fromFrame);
  const right = pixelOf(view, loop.toFrame);
  sheet.fill(left, ruler - 4 * dpr, right, ruler - dpr, palette.mark);
  for (const [x, sense] of [
    [left, 1],
    [right, -1],
  ] as const) {
    const between = (from: number, to: number): void => {
      sheet.fill(
        Math.min(x + sense * from, x + sense * to),
        top,
        Math.max(x + sense * from, x + sense * to),
        ruler,
        palette.mark,
      );
    };
    between(0, 3 * dpr);
    between(5 * dpr, 6 * dpr);
    for (const y of [9, 15]) sheet.disc(x + sense * 9 * dpr, y * dpr, 1.7 * dpr, palette.mark);
  }
}
