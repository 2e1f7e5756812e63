import type { SpanView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import { type Lie, spanInTake, takeSecAt } from '../drawing/take-time.ts';

/** Which stretch of a take the spectrograms show. */
export type Shown = 'notes' | 'silence' | 'selected';

const NOTES_LEAD_SEC = 2;
const NOTES_SEC = 8;
const LONGEST_SEC = 60;

/**
 * The stretch to look at, take time: the first notes with a breath of room before, the silence, or what is selected in the
 * take's lane. What cannot be had falls back to the next; at most a minute.
 */
export function stretchShown(
  wanted: Shown,
  facts: TakeFacts,
  lie: Lie | null,
  selected: SpanView | null,
): { readonly shown: Shown; readonly span: SpanView } {
  const { lengthSec } = facts;
  const chosen = selected === null ? null : spanInTake(selected, lie, lengthSec);
  const silence = facts.clean.silence ?? facts.silences[0] ?? null;
  if (wanted === 'selected' && chosen !== null) return { shown: 'selected', span: held(chosen) };
  if (wanted === 'silence' && silence !== null) {
    return { shown: 'silence', span: held({ fromSec: silence.fromSec, toSec: silence.toSec }) };
  }
  const begins = facts.music === null ? (silence?.fromSec ?? 0) : takeSecAt(facts.music.fromSec, lie) - NOTES_LEAD_SEC;
  const fromSec = Math.max(0, Math.min(begins, lengthSec - NOTES_SEC));
  return { shown: 'notes', span: { fromSec, toSec: Math.min(lengthSec, fromSec + NOTES_SEC) } };
}

function held(span: SpanView): SpanView {
  return { fromSec: span.fromSec, toSec: Math.min(span.toSec, span.fromSec + LONGEST_SEC) };
}

/** Level of a spectrogram's byte, dBFS: 0 is -120 or less, 255 is 0. */
export function byteDb(value: number): number {
  return -120 + (120 * value) / 255;
}

/** The levels a pair of spectrograms is drawn with, dB: from the loudest before, 80 dB down, in whole tens. */
export function shownRange(before: Uint8Array): { readonly lowDb: number; readonly topDb: number } {
  let most = 0;
  for (const value of before) if (value > most) most = value;
  const topDb = Math.max(-60, Math.min(0, Math.ceil(byteDb(most) / 10) * 10));
  return { lowDb: topDb - 80, topDb };
}

/** Turns bytes, column after column from low to high, into pixels, row after row from high to low. */
export function paintInk(
  bytes: Uint8Array,
  columns: number,
  rows: number,
  range: { readonly lowDb: number; readonly topDb: number },
  palette: Uint8ClampedArray,
  pixels: Uint8ClampedArray,
): void {
  const shade = new Uint8Array(256);
  for (let value = 0; value < 256; value++) {
    const share = (byteDb(value) - range.lowDb) / (range.topDb - range.lowDb);
    shade[value] = Math.round(255 * Math.max(0, Math.min(1, share)));
  }
  for (let column = 0; column < columns; column++) {
    for (let row = 0; row < rows; row++) {
      const at = 4 * shade[bytes[column * rows + row] ?? 0]!;
      const to = 4 * ((rows - 1 - row) * columns + column);
      pixels[to] = palette[at]!;
      pixels[to + 1] = palette[at + 1]!;
      pixels[to + 2] = palette[at + 2]!;
      pixels[to + 3] = 255;
    }
  }
}
