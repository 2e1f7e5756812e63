import { type ClockPiece, clockPieces, sessionSecOf } from '../../core/signal/clock.ts';
import { fillShades, markShades } from './draw-bars.ts';
import { drawJoins } from './draw-joins.ts';
import { drawPins } from './draw-pins.ts';
import { calmLane, type LaneOverlay } from './lane-overlay.ts';
import type { Lane, LaneWave, Stretch } from './lane-scene.ts';
import type { Palette } from './palette.ts';
import type { PixelSheet, Word } from './pixel-sheet.ts';
import { frameAt, pixelOf, SESSION_RATE_HZ, type TimeView } from './time-view.ts';
import { type Columns, type Detail, fillColumns, sampleAt } from './wave-columns.ts';
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
/** A silence narrower than that, CSS pixels, is shaded without words. */
const LEAST_SILENCE_PX = 14;
/** A letter is about so wide, CSS pixels. */
const LETTER_PX = 6.2;
/** The same word stands no closer than that again, CSS pixels: marks say where, the word only what. */
const WORD_AGAIN_PX = 260;
/** In lower lanes, CSS pixels, the music has its bracket without the word. */
const MUSIC_WORD_FROM_PX = 50;
/** From so many pixels a sample on, single samples are drawn as note heads. */
const HEADS_FROM_PX = 7;

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
  if (look.ghost !== null) {
    const side = look.ghost.before === null ? 'after' : 'before';
    const piece = clockPieces(look.ghost.place)[0]!;
    const seen = readSide(drawing, look.ghost, piece, side, drawing.columns, WHOLE);
    const half = reach * look.ghost.tallness;
    if (seen !== null) drawSide(drawing, seen, { middle, half, reach, colour: palette.ghost }, null);
  }
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
  if (lane.passages != null) drawJoins(drawing, lane.passages, top, height);
  overlay?.over(drawing, lane, top, height);
  sheet.fill(0, bottom - Math.max(1, Math.round(dpr / 2)), view.widthPx, bottom, palette.rule);
}

/** Columns between which a waveform is drawn, device pixels. */
interface Within {
  readonly from: number;
  readonly to: number;
}

const WHOLE: Within = { from: Number.NEGATIVE_INFINITY, to: Number.POSITIVE_INFINITY };

/** A waveform, piece by piece where its clock changes. */
function drawWave(drawing: Drawing, lane: Lane, wave: LaneWave, middle: number, reach: number, within: Within): void {
  const { view } = drawing;
  for (const piece of clockPieces(wave.place)) {
    const from = Math.max(within.from, secToPixel(view, piece.fromSec));
    const to = Math.min(within.to, secToPixel(view, piece.toSec));
    if (to > Math.max(0, from) && from < view.widthPx)
      drawPiece(drawing, lane, wave, piece, middle, reach, { from, to });
  }
}

/** The sound after cleaning over a pale one before; one of them where there is no other. */
function drawPiece(
  drawing: Drawing,
  lane: Lane,
  wave: LaneWave,
  piece: ClockPiece,
  middle: number,
  reach: number,
  within: Within,
): void {
  const { palette, dpr } = drawing;
  const index = lane.voice?.colour ?? 0;
  // What is not heard is pale: muted, another take, or a clip that is not there.
  const isPale = lane.voice?.muted === true || !lane.sounds || lane.words !== null;
  const pale = lane.kind === 'guide' ? palette.ghost : palette.paleVoices[index]!;
  const full = isPale ? pale : lane.kind === 'guide' ? palette.guide : palette.voices[index]!;
  const before = readSide(drawing, wave, piece, 'before', drawing.columns, within);
  const after = readSide(drawing, wave, piece, 'after', drawing.overColumns, within);
  const half = reach * wave.tallness;
  if (before !== null) {
    const colour = wave.after === null ? full : pale;
    drawSide(drawing, before, { middle, half, reach, colour }, after?.columns ?? null);
  }
  if (after !== null) drawSide(drawing, after, { middle, half, reach, colour: full }, null);
  const seen = after ?? before;
  if (lane.words === null && seen !== null && isAwaited(seen) && (before === null || isAwaited(before))) {
    const text = 'Its waveform is on its way …';
    drawing.labels.push({ x: 12 * dpr, y: middle, text, colour: palette.css.faint, room: 0, strong: false });
  }
}

function secToPixel(view: TimeView, sec: number): number {
  return pixelOf(view, sec * SESSION_RATE_HZ);
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

/** Hairlines where a clip begins and ends. */
function drawEnds(drawing: Drawing, wave: LaneWave, top: number, height: number): void {
  const { sheet, view, palette, dpr } = drawing;
  const source = wave.before ?? wave.after;
  if (source === null) return;
  const lengthSec = source.lengthFrames / wave.rateHz;
  const margin = 0.12 * height;
  for (const takeSec of [0, lengthSec]) {
    const x = secToPixel(view, sessionSecOf(wave.place, takeSec));
    sheet.fill(x, top + margin, x + dpr, top + height - margin, palette.edge);
  }
}

/** The columns of one waveform that are in view, and where they lie in it. */
interface Seen {
  readonly columns: Columns;
  readonly details: readonly Detail[];
  readonly firstFrame: number;
  readonly framesPerColumn: number;
  readonly from: number;
  readonly to: number;
}

/** Reads one waveform into columns; null where there is none or it is not in view. */
function readSide(
  drawing: Drawing,
  wave: LaneWave,
  piece: ClockPiece,
  side: 'before' | 'after',
  columns: Columns,
  within: Within,
): Seen | null {
  const source = wave[side];
  if (source === null) return null;
  const { view, store } = drawing;
  const framesPerSession = (wave.rateHz / SESSION_RATE_HZ) * piece.rate;
  const framesPerColumn = view.framesPerPx * framesPerSession;
  const firstFrame =
    (piece.takeSec0 + (frameAt(view, 0) / SESSION_RATE_HZ - piece.sessionSec0) * piece.rate) * wave.rateHz;
  const from = Math.max(0, Math.floor(-firstFrame / framesPerColumn), Math.round(within.from));
  const end = Math.ceil((source.lengthFrames - firstFrame) / framesPerColumn);
  const to = Math.min(view.widthPx, end, Math.round(within.to));
  if (to <= from) return null;
  const details = store.detailsFor(source, framesPerColumn);
  columns.known.fill(0);
  fillColumns(columns, details, firstFrame, framesPerColumn, from, to);
  return { columns, details, firstFrame, framesPerColumn, from, to };
}

/** Nothing of a waveform that should be in view is there yet. */
function isAwaited(seen: Seen): boolean {
  const first = seen.columns.known.indexOf(1, seen.from);
  return first < 0 || first >= seen.to;
}

/** How a waveform is drawn: around `middle`, full scale `half` high, cut off at `reach`, device pixels. */
interface Stroke {
  readonly middle: number;
  readonly half: number;
  readonly reach: number;
  readonly colour: Word;
}

function drawSide(drawing: Drawing, seen: Seen, stroke: Stroke, hidden: Columns | null): void {
  const { sheet, dpr } = drawing;
  const { columns, from, to, framesPerColumn } = seen;
  const { middle, half, reach, colour } = stroke;
  const least = (framesPerColumn < 1 ? 1.5 : 1) * dpr;
  sheet.wave(columns, from, to, middle, half, reach, least, colour, hidden);
  if (framesPerColumn * HEADS_FROM_PX * dpr <= 1) drawHeads(drawing, seen, stroke);
}

/** Single samples as the heads of notes. */
function drawHeads(drawing: Drawing, seen: Seen, stroke: Stroke): void {
  const detail = seen.details[0];
  if (detail === undefined || detail.frames !== 1) return;
  const { sheet, dpr } = drawing;
  const { firstFrame, framesPerColumn } = seen;
  const { middle, half, reach, colour } = stroke;
  const radius = Math.min(3.5, 0.25 / framesPerColumn / dpr) * dpr;
  const last = Math.min(detail.items - 1, Math.floor(firstFrame + seen.to * framesPerColumn));
  for (let frame = Math.max(0, Math.ceil(firstFrame + seen.from * framesPerColumn)); frame <= last; frame++) {
    const value = sampleAt(detail, frame);
    if (value === undefined) continue;
    const x = (frame - firstFrame) / framesPerColumn;
    const offset = Math.max(-reach, Math.min(reach, (value / 32767) * half));
    sheet.disc(x, middle - offset, radius, colour);
  }
}

function drawMarks(drawing: Drawing, lane: Lane, top: number, height: number): void {
  const { sheet, view, palette, dpr, labels } = drawing;
  const { css } = palette;
  const taken = new Shelf();
  const upper = top + 9 * dpr;
  const lower = top + height - 9 * dpr;
  const isSmall = height < 40 * dpr;
  if (lane.words !== null) {
    const isWrong = lane.facts?.state === 'missing' || lane.facts?.state === 'faulty';
    const colour = isWrong ? css.wrong : css.faint;
    labels.push({
      x: 14 * dpr,
      y: top + height / 2,
      text: lane.words,
      colour,
      room: 0,
      strong: isWrong,
      boxed: isWrong,
    });
  }
  if (lane.clapSec !== null) {
    const x = Math.round(secToPixel(view, lane.clapSec));
    sheet.fill(x, top, x + Math.max(1, Math.round(dpr)), top + height, palette.mark);
    for (let n = 0; n < 6 * dpr; n++)
      sheet.fill(x - 6 * dpr + n, top + n, x + 6 * dpr - n + dpr, top + n + 1, palette.mark);
    if (taken.put(x, x + 44 * dpr)) {
      labels.push({ x: x + 9 * dpr, y: upper, text: 'clap', colour: css.mark, room: 0, strong: true });
    }
  }
  let wordFrom = Number.NEGATIVE_INFINITY;
  for (const spot of lane.clipped) {
    const left = secToPixel(view, spot.fromSec);
    const right = Math.max(left + 2 * dpr, secToPixel(view, spot.toSec));
    if (right < 0 || left > view.widthPx) continue;
    sheet.fill(left, top + dpr, right, top + 4 * dpr, palette.wrong);
    sheet.fill(left, top + height - 4 * dpr, right, top + height - dpr, palette.wrong);
    if (!isSmall && left >= wordFrom && taken.put(left, left + 52 * dpr)) {
      wordFrom = Math.max(0, left) + WORD_AGAIN_PX * dpr;
      labels.push({ x: left, y: upper + 3 * dpr, text: 'clipped', colour: css.wrong, room: 0, strong: true });
    }
  }
  const below = new Shelf();
  if (lane.music !== null) {
    const left = secToPixel(view, lane.music.fromSec);
    const right = secToPixel(view, lane.music.toSec);
    const y = Math.round(top + height - 4 * dpr);
    sheet.fill(left, y, right, y + dpr, palette.faint);
    sheet.fill(left, y - 4 * dpr, left + dpr, y, palette.faint);
    sheet.fill(right - dpr, y - 4 * dpr, right, y, palette.faint);
    const seen = Math.max(0, left);
    const room = Math.min(view.widthPx, right) - seen - 10 * dpr;
    if (height >= MUSIC_WORD_FROM_PX * dpr && below.put(seen, seen + 46 * dpr)) {
      labels.push({ x: seen + 5 * dpr, y: lower - 3 * dpr, text: 'music', colour: css.faint, room, strong: false });
    }
  }
  if (lane.shades !== undefined) markShades(drawing, lane.shades, top, top + height);
  if (lane.silence !== null) writeSilence(drawing, lane.silence, lower - 1 * dpr, below);
}

/** The words of a silence; where the whole of them has no room in it, the first one, which may reach out a little. */
function writeSilence(drawing: Drawing, silence: Stretch & { readonly label: string }, y: number, below: Shelf): void {
  const { view, dpr, labels, palette } = drawing;
  const left = Math.max(0, secToPixel(view, silence.fromSec));
  const right = Math.min(view.widthPx, secToPixel(view, silence.toSec));
  const least = LEAST_SILENCE_PX * dpr;
  if (right - left < least) return;
  const { label } = silence;
  const words = label.length * LETTER_PX * dpr <= right - left ? label : `silence${label.includes('?') ? '?' : ''}`;
  const end = left + (words.length * LETTER_PX + 6) * dpr;
  if (!below.put(left, Math.max(right, end))) return;
  labels.push({ x: left + 4 * dpr, y, text: words, colour: palette.css.ink, room: 0, strong: false });
}

/** Keeps words of one line from lying over each other. */
class Shelf {
  private readonly spans: [number, number][] = [];

  /** Takes the room, and tells whether it was free. */
  put(from: number, to: number): boolean {
    if (this.spans.some(([left, right]) => from < right && to > left)) return false;
    this.spans.push([from, to]);
    return true;
  }
}
