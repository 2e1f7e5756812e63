import { type Clock, driftPpmAt, takeSecOf } from '../signal/clock.ts';
import type { NoteIntonation } from './intonation.ts';
import type { PitchRow } from './pitch-span.ts';

/** Stands for no pitch in a curve of `offCurve`. */
export const NO_PITCH = -32768;
/** Farther than this from a note's own middle is the way from or to another note, or an octave error, cents. */
const FARTHEST_CENTS = 60;

/** How far a voice's pitch lies from what is wanted, moment by moment. */
export interface OffCurve {
  /** Session time of the first value, and from one to the next, s. */
  readonly fromSec: number;
  readonly hopSec: number;
  /** Tenths of a cent, positive where sharp; NO_PITCH outside of notes and where no pitch was heard. */
  readonly tenths: Int16Array;
}

/**
 * The pitch of a voice as its distance from the pitch that each of its notes should have. place: where the row lies on the
 * session's clock; notes: those of the report, in order, session time. Memory: 2 bytes a hop from the first note to the last.
 */
export function offCurve(row: PitchRow, place: Clock, notes: readonly NoteIntonation[]): OffCurve {
  const { hopSec } = row;
  const fromSec = notes[0]?.fromSec ?? 0;
  const toSec = notes.reduce((last, note) => Math.max(last, note.toSec), fromSec);
  const tenths = new Int16Array(Math.ceil((toSec - fromSec) / hopSec)).fill(NO_PITCH);
  for (const note of notes) {
    const wanted = 1200 * Math.log2(note.hz) - note.offCents;
    const end = Math.min(tenths.length, Math.ceil((note.toSec - fromSec) / hopSec));
    for (let n = Math.max(0, Math.ceil((note.fromSec - fromSec) / hopSec)); n < end; n++) {
      const takeSec = takeSecOf(place, fromSec + n * hopSec);
      const hz = row.hz[Math.round((takeSec - row.firstSec) / hopSec)] ?? Number.NaN;
      const off = 1200 * Math.log2(hz * (1 + driftPpmAt(place, takeSec) * 1e-6)) - wanted;
      // NaN where there is no pitch: not within anything.
      if (Math.abs(off - note.offCents) <= FARTHEST_CENTS) tenths[n] = Math.round(10 * off);
    }
  }
  return { fromSec, hopSec, tenths };
}
