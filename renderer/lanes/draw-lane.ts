import { fillShades } from './draw-bars.ts';
import { drawJoins } from './draw-joins.ts';
import { drawMarks } from './draw-marks.ts';
import { drawPins } from './draw-pins.ts';
import { drawEnds, drawGhost, drawWave, WHOLE } from './draw-wave.ts';
import { calmLane, type LaneOverlay } from './lane-overlay.ts';
import type { Lane, LaneWave, Stretch } from './lane-scene.ts';
import type { Palette } from './palette.ts';
import type { PixelSheet } from './pixel-sheet.ts';
import { secToPixel, type TimeView } from './time-view.ts';
import type { Columns } from './wave-columns.ts';
import type { WaveStore } from './wave-store.ts';

/** A word to be written over the pixels, device pixels; `room` is how wide it may be, 0 for any width. */
export interface Label {
  readonly x: number;
  /** Middle of the line of text. */
  readonly y: number;
  readonly text: string;
  /** On a piece of paper of its own. */
  readonly boxed?: boolean;
  readonly colour: string;
  readonly room: number;
  readonly strong: boolean;
}

/** What lanes are drawn with. `view` counts device pixels, `dpr` of them a CSS pixel. */
export interface Drawing {
  readonly sheet: PixelSheet;
  readonly view: TimeView;
  readonly dpr: number;
  readonly palette: Palette;
  readonly store: WaveStore;
  /** Scratch, one column a pixel: for a waveform, and for the one drawn over it. */
  readonly columns: Columns;
  readonly overColumns: Columns;
  readonly labels: Label[];
}

export interface LaneLook {
  readonly inHand: boolean;
  readonly stretch: Stretch | null;
  readonly mixSpan: Stretch | null;
  /** A neighbour's sound, drawn behind while the take is moved. */
  readonly ghost: LaneWave | null;
  readonly overlay: LaneOverlay | null;
}

/** Share of a lane's height that its staff takes, and its waveform at most on each side of the middle. */
const STAFF_SHARE = 0.56;
const REACH_SHARE = 0.45;

/** Draws one lane between two heights, device pixels. */
export function drawLane(drawing: Drawing, whole: Lane, top: number, height: number, look: LaneLook): void {
  const { sheet, view, palette, dpr } = drawing;
  const { overlay } = look;
  const lane = overlay === null || whole.kind === 'guide' ? whole : calmLane(whole);
  const bottom = top + height;
  drawGround(drawing, lane, top, bottom, look);
  overlay?.under(drawing, lane, top, height);
  drawStaff(drawing, lane, top, height, overlay?.staffShare ?? STAFF_SHARE);
  const middle = top + height / 2;
  const reach = REACH_SHARE * height;
  if (look.ghost !== null) drawGhost(drawing, look.ghost, middle, reach);
  if (lane.passages != null) {
    for (const part of lane.passages.parts) {
      if (part.wave === null) continue;
      const within = { from: secToPixel(view, part.fromSec), to: secToPixel(view, part.toSec) };
      drawWave(drawing, { ...lane, sounds: part.sounds }, part.wave, middle, reach, within);
    }
  } else if (lane.wave !== null) {
    drawEnds(drawing, lane.wave, top, height);
    drawWave(drawing, lane, lane.wave, middle, reach, WHOLE);
  }
  drawMarks(drawing, lane, top, height);
  if (lane.pins !== undefined) drawPins(drawing, lane.pins, top, height);
  if (lane.passages != null) drawJoins(drawing, lane.passages, top, height, (overlay?.scalePx ?? 0) * dpr);
  overlay?.over(drawing, lane, top, height);
  sheet.fill(0, bottom - Math.max(1, Math.round(dpr / 2)), view.widthPx, bottom, palette.rule);
}

function drawGround(drawing: Drawing, lane: Lane, top: number, bottom: number, look: LaneLook): void {
  const { sheet, view, palette, dpr } = drawing;
  sheet.fill(0, top, view.widthPx, bottom, look.inHand ? palette.inHand : palette.sheet);
  if (look.mixSpan !== null) {
    sheet.fill(0, top, secToPixel(view, look.mixSpan.fromSec), bottom, palette.outside);
    sheet.fill(secToPixel(view, look.mixSpan.toSec), top, view.widthPx, bottom, palette.outside);
  }
  if (lane.silence !== null) {
    const left = secToPixel(view, lane.silence.fromSec);
    const right = secToPixel(view, lane.silence.toSec);
    sheet.fill(left, top, right, bottom, palette.silence);
    sheet.hatch(
      left,
      top,
      right,
      bottom,
      Math.round(9 * dpr),
      Math.round(left) + Math.round(top),
      palette.silenceHatch,
    );
  }
  if (lane.shades !== undefined) fillShades(drawing, lane.shades, top, bottom);
  if (look.stretch !== null) {
    const left = secToPixel(view, look.stretch.fromSec);
    const right = secToPixel(view, look.stretch.toSec);
    sheet.fill(left, top, Math.max(left + 1, right), bottom, palette.stretch);
    sheet.fill(left - dpr, top, left, bottom, palette.stretchEdge);
    sheet.fill(right, top, right + dpr, bottom, palette.stretchEdge);
  }
}

function drawStaff(drawing: Drawing, lane: Lane, top: number, height: number, share: number): void {
  const { sheet, view, palette, dpr } = drawing;
  const line = Math.max(1, Math.round(dpr / 2));
  const middle = Math.round(top + height / 2);
  const gap = Math.max(2, Math.round((share * height) / 4));
  const lines = lane.kind === 'guide' ? 0 : 2;
  for (let n = -lines; n <= lines; n++) {
    const y = middle + n * gap;
    sheet.fill(0, y, view.widthPx, y + line, palette.staff);
  }
}
