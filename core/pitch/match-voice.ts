import { type Clock, driftPpmAt, sessionSecOf, takeSecOf } from '../signal/clock.ts';
import { type Alignment, alignNotes } from './align-notes.ts';
import type { ExpectedNote, MatchedNote } from './expected-note.ts';
import type { HeardNote } from './heard-notes.ts';
import { type PitchRow, pitchOfSpan } from './pitch-span.ts';

/** A take's row of pitches and its notes, and where it lies. */
export interface HeardVoice {
  readonly row: PitchRow;
  /** Times of the take. */
  readonly notes: readonly HeardNote[];
  readonly place: Clock;
}

/** Without a place of its own a note of the score may be looked for this long at most, s. */
const LONGEST_SPAN_SEC = 12;

/**
 * What a voice played of a part of the score. Times come from the alignment; the pitch of each note is then read from the
 * track over its whole stretch near the written pitch, so that two notes heard as one, or one as two, are still measured.
 */
export function matchVoice(
  voice: HeardVoice,
  expected: readonly ExpectedNote[],
  clockKnown: boolean,
): { readonly alignment: Alignment; readonly notes: readonly MatchedNote[] } {
  const { row, place } = voice;
  const session = voice.notes.map((note) => ({
    fromSec: sessionSecOf(place, note.fromSec),
    toSec: sessionSecOf(place, note.toSec),
    cents: note.cents + clockCents(place, note.fromSec),
  }));
  const alignment = alignNotes(session, expected, clockKnown);
  const begins = beginsOf(alignment, session, expected);
  const lift = 1200 * alignment.octaves;
  const notes = expected.flatMap((note, index): MatchedNote[] => {
    const heardIndex = alignment.heardOf[index]!;
    const heard = heardIndex === null ? undefined : voice.notes[heardIndex];
    const fromSec = begins[index]!;
    const writtenSec = (note.endSec - note.atSec) * alignment.stretch;
    const next = begins[index + 1] ?? Number.POSITIVE_INFINITY;
    const toSec = Math.min(fromSec + Math.max(0.1, writtenSec), next, fromSec + LONGEST_SPAN_SEC);
    if (toSec - fromSec < 0.06) return [];
    const takeSec = takeSecOf(place, fromSec);
    const speed = clockCents(place, takeSec);
    const pitch = pitchOfSpan(row, takeSec, takeSecOf(place, toSec), note.cents + lift - speed);
    if (pitch === undefined) return [];
    const cents = pitch.cents + speed - lift;
    return [
      {
        expected: note,
        fromSec,
        toSec,
        onsetSec: heard === undefined ? null : sessionSecOf(place, heard.onsetSec),
        onsetUncertaintySec: heard === undefined ? writtenSec : heard.onsetUncertaintySec,
        cents,
        offCents: cents - note.cents,
        spreadCents: pitch.spreadCents,
        uncertaintyCents: pitch.uncertaintyCents,
      },
    ];
  });
  return { alignment, notes };
}

/** What a take's clock adds to a pitch at its own time once the take runs by the session's clock, cents. */
export function clockCents(place: Clock, takeSec: number): number {
  return 1200 * Math.log2(1 + driftPpmAt(place, takeSec) * 1e-6);
}

/** Where each note of the score begins, session time: matched ones where they were heard, the rest between their neighbours. */
function beginsOf(
  alignment: Alignment,
  heard: readonly { readonly fromSec: number }[],
  expected: readonly ExpectedNote[],
): number[] {
  const { heardOf, shiftSec, stretch } = alignment;
  const known = heardOf.map((index) => (index === null ? undefined : heard[index]!.fromSec));
  const written = expected.map((note) => shiftSec + stretch * note.atSec);
  return known.map((sec, index) => {
    if (sec !== undefined) return sec;
    // The nearest matched notes on both sides tell how late the player is here.
    const before = known.findLastIndex((one, at) => at < index && one !== undefined);
    const after = known.findIndex((one, at) => at > index && one !== undefined);
    const lates = [before, after].filter((at) => at >= 0).map((at) => known[at]! - written[at]!);
    const late = lates.length === 0 ? 0 : lates.reduce((sum, one) => sum + one, 0) / lates.length;
    return written[index]! + Math.max(-0.5, Math.min(0.5, late));
  });
}
