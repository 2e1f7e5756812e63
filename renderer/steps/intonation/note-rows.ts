import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import type { NoteIntonation } from '../../../core/pitch/intonation.ts';
import type { VoiceTiming } from '../../../core/pitch/voice-timing.ts';

/** A note with everything that is known of it. */
export interface NoteRow {
  readonly voiceId: string;
  readonly voiceName: string;
  /** Number among its voice's notes. */
  readonly at: number;
  readonly note: NoteIntonation;
  /** ms, above 0 late; null where there is nothing to hold its beginning against. */
  readonly late: { readonly ms: number; readonly uncertaintyMs: number } | null;
}

export type RowOrder = 'time' | 'pitch' | 'cents' | 'late';

/** Which notes are shown: all, or those off by more than so much. */
export type RowFilter =
  | { readonly by: 'none' }
  | { readonly by: 'cents'; readonly above: number }
  | { readonly by: 'ms'; readonly above: number };

/** A beginning belongs to the note that it lies nearest to, if within this, s. */
const SAME_NOTE_SEC = 0.25;

/** All notes of a report, voice by voice in order of time. */
export function noteRows({ intonation, timing }: Pick<PitchReportView, 'intonation' | 'timing'>): NoteRow[] {
  return (intonation?.voices ?? []).flatMap(({ id, name, notes }) => {
    const lates = latesOf(notes, timing?.voices.find((voice) => voice.id === id)?.notes ?? []);
    return notes.map((note, at) => ({ voiceId: id, voiceName: name, at, note, late: lates[at] ?? null }));
  });
}

/** For each note how late it begins, from the timing's own list, which leaves some notes out. */
function latesOf(notes: readonly NoteIntonation[], timed: VoiceTiming['notes']): (NoteRow['late'] | undefined)[] {
  const lates: (NoteRow['late'] | undefined)[] = [];
  let from = 0;
  for (const one of timed) {
    let best = -1;
    for (let at = from; at < notes.length; at++) {
      const away = Math.abs(notes[at]!.fromSec - one.sec);
      if (best >= 0 && away > Math.abs(notes[best]!.fromSec - one.sec)) break;
      if (away <= SAME_NOTE_SEC) best = at;
      if (notes[at]!.fromSec > one.sec + SAME_NOTE_SEC) break;
    }
    if (best < 0) continue;
    lates[best] = { ms: one.lateMs, uncertaintyMs: one.uncertaintyMs };
    from = best + 1;
  }
  return lates;
}

/** The rows that a filter lets through. */
export function filteredRows(rows: readonly NoteRow[], filter: RowFilter): NoteRow[] {
  switch (filter.by) {
    case 'none':
      return [...rows];
    case 'cents':
      return rows.filter(({ note }) => Math.abs(note.offCents) > filter.above);
    case 'ms':
      return rows.filter(({ late }) => late !== null && Math.abs(late.ms) > filter.above);
  }
}

/** Rows in an order; by cents and by time of beginning the farthest come first, those that are not known last. */
export function sortedRows(rows: readonly NoteRow[], order: RowOrder, isTurned: boolean): NoteRow[] {
  const way = isTurned ? -1 : 1;
  const far = ({ late }: NoteRow): number => (late === null ? -1 : Math.abs(late.ms));
  const compare: Readonly<Record<RowOrder, (one: NoteRow, other: NoteRow) => number>> = {
    time: (one, other) => one.note.fromSec - other.note.fromSec,
    pitch: (one, other) => one.note.key - other.note.key || one.note.fromSec - other.note.fromSec,
    cents: (one, other) => Math.abs(other.note.offCents) - Math.abs(one.note.offCents),
    late: (one, other) => far(other) - far(one),
  };
  return rows.toSorted((one, other) => way * compare[order](one, other));
}
