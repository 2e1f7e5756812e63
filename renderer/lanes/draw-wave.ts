import { type ClockPiece, clockPieces, sessionSecOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { Drawing } from './draw-lane.ts';
import type { Lane, LaneWave } from './lane-scene.ts';
import type { Word } from './pixel-sheet.ts';
import { frameAt, secToPixel } from './time-view.ts';
import { type Columns, type Detail, fillColumns, sampleAt } from './wave-columns.ts';

/** From so many pixels a sample on, single samples are drawn as note heads. */
const HEADS_FROM_PX = 7;

/** Columns between which a waveform is drawn, device pixels. */
export interface Within {
  readonly from: number;
  readonly to: number;
}

export const WHOLE: Within = { from: Number.NEGATIVE_INFINITY, to: Number.POSITIVE_INFINITY };

/** A waveform, piece by piece where its clock changes. */
export function drawWave(
  drawing: Drawing,
  lane: Lane,
  wave: LaneWave,
  middle: number,
  reach: number,
  within: Within,
): void {
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

/** The neighbour's sound behind a take that is being moved. */
export function drawGhost(drawing: Drawing, ghost: LaneWave, middle: number, reach: number): void {
  const piece = clockPieces(ghost.place)[0]!;
  const side = ghost.before === null ? 'after' : 'before';
  const seen = readSide(drawing, ghost, piece, side, drawing.columns, WHOLE);
  const half = reach * ghost.tallness;
  if (seen !== null) drawSide(drawing, seen, { middle, half, reach, colour: drawing.palette.ghost }, null);
}

/** Hairlines where a clip begins and ends. */
export function drawEnds(drawing: Drawing, wave: LaneWave, top: number, height: number): void {
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
