import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import type { Chord } from '../../../core/pitch/chords.ts';
import type { NoteIntonation } from '../../../core/pitch/intonation.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import type { Drawing } from '../../lanes/draw-lane.ts';
import type { LaneOverlay } from '../../lanes/lane-overlay.ts';
import type { Lane, Stretch } from '../../lanes/lane-scene.ts';
import { mixed } from '../../lanes/pixel-sheet.ts';
import { frameAt, pixelOf, type TimeView } from '../../lanes/time-view.ts';
import { figure } from '../../parts/numbers.ts';
import type { NoteInHand } from './intonation-store.ts';
import { isNoteOut } from './intonation-words.ts';
import { fillPitch, type PitchCurve } from './pitch-curve.ts';

/** The outer lines of the staff stand for so many cents, its inner ones for half of that. */
export const STAFF_CENTS = 50;
/** Share of a lane's height from its middle to the outer line, and to the farthest that is drawn. */
const STAFF_REACH = 0.34;
const FARTHEST_REACH = 0.46;
/**
 * The scale at the left, CSS pixels: how wide, where its figures begin (beside the playback line of a piece in whole, which stands at
 * 8 px before it plays), and from which height of a lane on with all its figures.
 */
const SCALE_PX = 40;
const FIGURES_PX = 12;
const ALL_FIGURES_FROM_PX = 72;
const FIGURES_FROM_PX = 42;
/** Signs of notes that are off stand at least so far apart, CSS pixels. */
const SIGNS_APART_PX = 9;
/** From so many s a CSS pixel on, notes are a few pixels wide: the curve is paler, so that their strokes stay in front. */
const DENSE_SEC = 0.1;
/** What a column's unit of `PixelSheet.wave` stands for: tenths of a cent. */
const FULL_TENTHS = 32767;

/** A voice as it is drawn over its lane. */
export interface OverlayVoice {
  readonly notes: readonly NoteIntonation[];
  /** Null until it has come. */
  readonly curve: PitchCurve | null;
  /** What mending adds to notes and curve since they were made, cents at a session time; null where nothing has changed. */
  readonly shiftCents: ((sec: number) => number) | null;
  readonly curveShiftCents: ((sec: number) => number) | null;
  /** Stretches that mending lets sound later or earlier, with words. */
  readonly moved: readonly (Stretch & { readonly words: string })[];
}

/** Everything that the overlay shows. */
export interface OverlayContent {
  readonly voices: ReadonlyMap<string, OverlayVoice>;
  readonly note: NoteInHand | null;
  /** The chord that is marked, the bar it lies in, and its words. */
  readonly chord: { readonly chord: Chord; readonly bar: Stretch; readonly words: string } | null;
  onPick(note: NoteInHand): void;
}

/** Each voice's pitch over its lane: how far from what is wanted, as a curve and note by note. */
export function pitchOverlay(content: OverlayContent): LaneOverlay {
  const voiceOf = (lane: Lane): OverlayVoice | undefined =>
    lane.kind === 'voice' && lane.voice !== null ? content.voices.get(lane.voice.id) : undefined;
  return {
    staffShare: 2 * STAFF_REACH,
    scalePx: SCALE_PX,
    under(drawing, lane, top, height) {
      if (content.chord !== null && lane.kind !== 'take') markBar(drawing, content.chord, lane, top, height);
      if (voiceOf(lane) !== undefined) drawBand(drawing, top, height);
    },
    over(drawing, lane, top, height) {
      const voice = voiceOf(lane);
      if (voice === undefined) return;
      if (voice.curve !== null) drawCurve(drawing, voice.curve, voice.curveShiftCents, top, height);
      drawNotes(drawing, voice, lane, top, height);
      if (content.chord !== null) boxChord(drawing, content.chord.chord, voice, lane, top, height);
      const at = content.note?.voiceId === lane.voice?.id ? (content.note?.at ?? -1) : -1;
      const inHand = voice.notes[at];
      if (inHand !== undefined) drawBox(drawing, inHand, voice, top, height, drawing.palette.stretchEdge);
      drawMoved(drawing, voice.moved, top, height);
      drawScale(drawing, top, height);
    },
    pick(lane, sec, slackSec) {
      const voice = voiceOf(lane);
      if (voice === undefined || lane.voice === null) return;
      const at = noteNear(voice.notes, sec, slackSec);
      if (at !== null) content.onPick({ voiceId: lane.voice.id, at });
    },
  };
}

/** Number of the note that sounds at a session time, else of the nearest within `slackSec`; null where there is none. */
export function noteNear(
  notes: readonly Pick<NoteIntonation, 'fromSec' | 'toSec'>[],
  sec: number,
  slackSec: number,
): number | null {
  let best: number | null = null;
  let nearest = slackSec;
  for (let at = Math.max(0, firstNoteAt(notes, sec) - 1); at < notes.length; at++) {
    const note = notes[at]!;
    if (note.fromSec > sec + slackSec) break;
    const away = Math.max(0, note.fromSec - sec, sec - note.toSec);
    if (away > nearest || (best !== null && away === nearest)) continue;
    nearest = away;
    best = at;
  }
  return best;
}

/** Number of the first note that ends after a session time; notes follow one another. */
function firstNoteAt(notes: readonly Pick<NoteIntonation, 'toSec'>[], sec: number): number {
  let low = 0;
  let high = notes.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (notes[middle]!.toSec <= sec) low = middle + 1;
    else high = middle;
  }
  return low;
}

function secToPixel(view: TimeView, sec: number): number {
  return pixelOf(view, sec * SESSION_RATE_HZ);
}

/** Height of a number of cents in a lane; kept inside the lane. */
function yOf(cents: number, top: number, height: number): number {
  const reach = FARTHEST_REACH * height;
  const up = (cents / STAFF_CENTS) * STAFF_REACH * height;
  return top + height / 2 - Math.max(-reach, Math.min(reach, up));
}

/** What few will mind. */
function drawBand({ sheet, view, palette }: Drawing, top: number, height: number): void {
  const colour = mixed(palette.sheet, palette.rule, 0.28);
  sheet.fill(0, yOf(WARN_CENTS, top, height), view.widthPx, yOf(-WARN_CENTS, top, height), colour);
}

function drawCurve(
  drawing: Drawing,
  curve: PitchCurve,
  shiftCents: ((sec: number) => number) | null,
  top: number,
  height: number,
): void {
  const { sheet, view, palette, dpr, columns } = drawing;
  const firstSec = frameAt(view, 0) / SESSION_RATE_HZ;
  const shift = shiftCents === null ? null : (sec: number): number => 10 * shiftCents(sec);
  fillPitch(columns, curve, firstSec, view.framesPerPx / SESSION_RATE_HZ, view.widthPx, shift);
  const half = (FULL_TENTHS / 10 / STAFF_CENTS) * STAFF_REACH * height;
  const isDense = (view.framesPerPx * dpr) / SESSION_RATE_HZ > DENSE_SEC;
  const colour = isDense ? mixed(palette.sheet, palette.ink, 0.3) : palette.ink;
  sheet.wave(columns, 0, view.widthPx, top + height / 2, half, FARTHEST_REACH * height, 1.2 * dpr, colour);
}

/** Notes as strokes; what is off is thicker and has an arrow that tells which way. */
function drawNotes(drawing: Drawing, voice: OverlayVoice, lane: Lane, top: number, height: number): void {
  const { sheet, view, palette, dpr } = drawing;
  const { notes, shiftCents } = voice;
  const colour = palette.voices[lane.voice?.colour ?? 0]!;
  const endSec = frameAt(view, view.widthPx) / SESSION_RATE_HZ;
  const thin = Math.max(1, 1.2 * dpr);
  const thick = Math.max(1.5, 2.2 * dpr);
  let signFrom = Number.NEGATIVE_INFINITY;
  for (let at = firstNoteAt(notes, frameAt(view, 0) / SESSION_RATE_HZ); at < notes.length; at++) {
    const note = notes[at]!;
    if (note.fromSec > endSec) break;
    const cents = note.offCents + (shiftCents?.(0.5 * (note.fromSec + note.toSec)) ?? 0);
    const left = secToPixel(view, note.fromSec);
    const right = Math.max(left + 2 * dpr, secToPixel(view, note.toSec));
    const y = yOf(cents, top, height);
    const isOut = isNoteOut({ offCents: cents, uncertaintyCents: note.uncertaintyCents });
    const half = isOut ? thick : thin;
    sheet.fill(left, y - half, right, y + half, isOut ? palette.wrong : colour);
    if (!isOut || left < signFrom) continue;
    drawArrow(drawing, (left + right) / 2, y, cents > 0 ? -1 : 1, height);
    signFrom = left + SIGNS_APART_PX * dpr;
  }
}

/** An arrow head off a note, up (-1) where it is sharp, down (1) where it is flat. */
function drawArrow({ sheet, palette, dpr }: Drawing, x: number, y: number, way: -1 | 1, height: number): void {
  const size = Math.round((height < 44 * dpr ? 3.5 : 5) * dpr);
  const begin = y + way * (2.2 * dpr + 1.5 * dpr + size);
  for (let n = 0; n <= size; n++) sheet.fill(x - n, begin - way * n, x + n + 1, begin - way * n + 1, palette.wrong);
}

function drawBox(
  { sheet, view, dpr }: Drawing,
  note: NoteIntonation,
  voice: OverlayVoice,
  top: number,
  height: number,
  colour: number,
): void {
  const cents = note.offCents + (voice.shiftCents?.(0.5 * (note.fromSec + note.toSec)) ?? 0);
  const y = yOf(cents, top, height);
  const left = secToPixel(view, note.fromSec) - 3 * dpr;
  const right = Math.max(left + 9 * dpr, secToPixel(view, note.toSec) + 3 * dpr);
  const [up, down] = [y - 6 * dpr, y + 6 * dpr];
  const line = Math.max(1, Math.round(1.5 * dpr));
  sheet.fill(left, up, right, up + line, colour);
  sheet.fill(left, down - line, right, down, colour);
  sheet.fill(left, up, left + line, down, colour);
  sheet.fill(right - line, up, right, down, colour);
}

/** The bar of a chord, through all lanes; its words on the guide line. */
function markBar(
  { sheet, view, palette, dpr, labels }: Drawing,
  { bar, words }: { readonly bar: Stretch; readonly words: string },
  lane: Lane,
  top: number,
  height: number,
): void {
  const left = secToPixel(view, bar.fromSec);
  const right = Math.max(left + 2 * dpr, secToPixel(view, bar.toSec));
  if (right < 0 || left > view.widthPx) return;
  sheet.fill(left, top, right, top + height, mixed(palette.sheet, palette.mark, 0.14));
  sheet.fill(left, top, left + dpr, top + height, palette.mark);
  sheet.fill(right - dpr, top, right, top + height, palette.mark);
  if (lane.kind !== 'guide') return;
  const { css } = palette;
  labels.push({
    x: Math.max(0, left) + 4 * dpr,
    y: top + 8 * dpr,
    text: words,
    colour: css.mark,
    room: 0,
    strong: true,
  });
}

/** The two notes of the interval that is worst in a chord. */
function boxChord(drawing: Drawing, chord: Chord, voice: OverlayVoice, lane: Lane, top: number, height: number): void {
  const { lowVoiceId, highVoiceId } = chord.worst;
  if (lane.voice?.id !== lowVoiceId && lane.voice?.id !== highVoiceId) return;
  const at = noteNear(voice.notes, 0.5 * (chord.fromSec + chord.toSec), 0);
  if (at !== null) drawBox(drawing, voice.notes[at]!, voice, top, height, drawing.palette.mark);
}

/** Stretches that are moved in time: a bracket along the foot of the lane, with words where there is room. */
function drawMoved(drawing: Drawing, moved: OverlayVoice['moved'], top: number, height: number): void {
  const { sheet, view, palette, dpr, labels } = drawing;
  const line = Math.max(1, Math.round(1.5 * dpr));
  const y = Math.round(top + height - 3 * dpr) - line;
  for (const { fromSec, toSec, words } of moved) {
    const left = secToPixel(view, fromSec);
    const right = Math.max(left + 2 * dpr, secToPixel(view, toSec));
    if (right < 0 || left > view.widthPx) continue;
    sheet.fill(left, y, right, y + line, palette.mark);
    sheet.fill(left, y - 4 * dpr, left + line, y, palette.mark);
    sheet.fill(right - line, y - 4 * dpr, right, y, palette.mark);
    const x = Math.max((SCALE_PX + 4) * dpr, left + 4 * dpr);
    labels.push({ x, y: y - 6 * dpr, text: words, colour: palette.css.mark, room: right - x, strong: true });
  }
}

/** The cents that the lines of the staff stand for. */
function drawScale({ sheet, palette, dpr, labels }: Drawing, top: number, height: number): void {
  sheet.fill(0, top + dpr, SCALE_PX * dpr, top + height - dpr, palette.sheet);
  sheet.fill(SCALE_PX * dpr, top + dpr, SCALE_PX * dpr + 1, top + height - dpr, palette.edge);
  const write = (text: string, y: number): void => {
    labels.push({ x: FIGURES_PX * dpr, y, text, colour: palette.css.faint, room: 0, strong: false });
  };
  const half = STAFF_CENTS / 2;
  const all = [STAFF_CENTS, half, 0, -half, -STAFF_CENTS];
  const shown = height >= ALL_FIGURES_FROM_PX * dpr ? all : all.filter((cents) => Math.abs(cents) === STAFF_CENTS);
  for (const cents of all) {
    const y = Math.round(yOf(cents, top, height));
    sheet.fill((SCALE_PX - 4) * dpr, y, SCALE_PX * dpr, y + Math.max(1, dpr / 2), palette.edge);
  }
  if (height < FIGURES_FROM_PX * dpr) write(`±${STAFF_CENTS}`, top + height / 2);
  else for (const cents of shown) write(`${cents > 0 ? '+' : ''}${figure(cents, 0)}`, yOf(cents, top, height));
}
