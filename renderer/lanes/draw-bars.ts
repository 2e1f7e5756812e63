import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { barStep, type GuideShade, usualBarSec } from './bar-map.ts';
import type { Drawing } from './draw-lane.ts';
import type { Scene } from './lane-scene.ts';
import { mixed } from './pixel-sheet.ts';
import type { Bar } from './ruler.ts';
import { pixelOf } from './time-view.ts';

/** Bar lines, numbers and beats stand at least so far apart, CSS pixels. */
const LINES_PX = 7;
const DENSE_PX = 60;
const NUMBERS_PX = 34;
const BEATS_PX = 14;
const BEAT_NUMBERS_PX = 34;
/** A letter is about so wide, CSS pixels. */
const LETTER_PX = 6.2;

const barSecs = new WeakMap<readonly Bar[], number>();

function barPxOf(drawing: Drawing, bars: readonly Bar[]): number {
  let sec = barSecs.get(bars);
  if (sec === undefined) {
    sec = usualBarSec(bars);
    barSecs.set(bars, sec);
  }
  return (sec * SESSION_RATE_HZ) / drawing.view.framesPerPx;
}

/** Whether a bar is among those shown when each `step`th is; a pick-up only where all are. */
function isShown(bar: Bar, step: number): boolean {
  return step === 1 || (bar.label !== '' && (Number(bar.label) - 1) % step === 0);
}

/** How wide the beats of a bar are, px; 0 where it has but one. */
function beatPx(drawing: Drawing, bar: Bar): number {
  const first = bar.beatsSec[0];
  return first === undefined ? 0 : ((first - bar.sec) * SESSION_RATE_HZ) / drawing.view.framesPerPx;
}

/** Bar numbers at their bar lines, and the numbers of beats where there is room. */
export function drawBarNumbers(drawing: Drawing, scene: Scene, top: number, heightPx: number): void {
  const { sheet, view, palette, dpr, labels } = drawing;
  const step = barStep(barPxOf(drawing, scene.bars), NUMBERS_PX * dpr);
  const line = Math.max(1, Math.round(dpr));
  const y = top + heightPx / 2;
  for (const bar of scene.bars) {
    const x = Math.round(pixelOf(view, bar.sec * SESSION_RATE_HZ));
    if (x > view.widthPx) return;
    if (!isShown(bar, step)) continue;
    if (x >= 0) sheet.fill(x, top, x + line, top + heightPx, palette.edge);
    if (bar.label !== '') {
      labels.push({ x: x + 4 * dpr, y, text: bar.label, colour: palette.css.ink, room: 0, strong: true });
    }
    if (beatPx(drawing, bar) < BEAT_NUMBERS_PX * dpr) continue;
    bar.beatsSec.forEach((sec, at) => {
      const beatX = Math.round(pixelOf(view, sec * SESSION_RATE_HZ));
      if (beatX < 0 || beatX > view.widthPx) return;
      sheet.fill(beatX, top + heightPx - 5 * dpr, beatX + line, top + heightPx, palette.edge);
      labels.push({
        x: beatX + 4 * dpr,
        y,
        text: `${bar.label}.${at + 2}`,
        colour: palette.css.faint,
        room: 0,
        strong: false,
      });
    });
  }
}

/** Bar lines, and beats where they stand far enough apart, run down through every lane; the double bar ends the piece. */
export function drawBarLines(drawing: Drawing, scene: Scene, top: number, bottom: number): void {
  const { sheet, view, palette, dpr } = drawing;
  if (scene.bars.length === 0) return;
  const step = barStep(barPxOf(drawing, scene.bars), LINES_PX * dpr);
  const line = Math.max(1, Math.round(dpr));
  // Where many stand side by side they are paler, so that the waveforms stay in front.
  const isDense = step * barPxOf(drawing, scene.bars) < DENSE_PX * dpr;
  const colour = isDense ? mixed(palette.rule, palette.edge, 0.35) : palette.edge;
  for (const bar of scene.bars) {
    const x = Math.round(pixelOf(view, bar.sec * SESSION_RATE_HZ));
    if (x > view.widthPx) break;
    if (!isShown(bar, step)) continue;
    if (x >= 0) sheet.fill(x, top, x + line, bottom, colour);
    if (beatPx(drawing, bar) < BEATS_PX * dpr) continue;
    for (const beat of bar.beatsSec) {
      const at = Math.round(pixelOf(view, beat * SESSION_RATE_HZ));
      if (at >= 0 && at <= view.widthPx) sheet.fill(at, top, at + line, bottom, palette.rule);
    }
  }
  if (scene.barsEndSec === null) return;
  const end = Math.round(pixelOf(view, scene.barsEndSec * SESSION_RATE_HZ));
  if (end < 0 || end > view.widthPx + 4 * dpr) return;
  sheet.fill(end - 4 * dpr, top, end - 4 * dpr + line, bottom, palette.edge);
  sheet.fill(end - 2 * dpr, top, end, bottom, palette.edge);
}

/** Ground of cue and count-in on the guide line. */
export function fillShades(drawing: Drawing, shades: readonly GuideShade[], top: number, bottom: number): void {
  const { sheet, view, palette } = drawing;
  for (const { fromSec, toSec } of shades) {
    sheet.fill(
      pixelOf(view, fromSec * SESSION_RATE_HZ),
      top,
      pixelOf(view, toSec * SESSION_RATE_HZ),
      bottom,
      palette.silence,
    );
  }
}

/** Their words, and where the claps belong. */
export function markShades(drawing: Drawing, shades: readonly GuideShade[], top: number, bottom: number): void {
  const { sheet, view, palette, dpr, labels } = drawing;
  const y = bottom - 10 * dpr;
  for (const { fromSec, toSec, label, clapSec } of shades) {
    const left = pixelOf(view, fromSec * SESSION_RATE_HZ);
    const room = pixelOf(view, toSec * SESSION_RATE_HZ) - left;
    if (room >= (label.length * LETTER_PX + 4) * dpr) {
      labels.push({ x: left + 3 * dpr, y, text: label, colour: palette.css.ink, room: 0, strong: false });
    }
    if (clapSec === null) continue;
    const x = Math.round(pixelOf(view, clapSec * SESSION_RATE_HZ));
    sheet.fill(x, top, x + Math.max(1, Math.round(dpr)), bottom, palette.mark);
    for (let n = 0; n < 5 * dpr; n++) {
      sheet.fill(x - 5 * dpr + n, top + n, x + 5 * dpr - n + dpr, top + n + 1, palette.mark);
    }
    labels.push({ x: x + 8 * dpr, y: top + 9 * dpr, text: 'clap', colour: palette.css.mark, room: 0, strong: true });
  }
}
