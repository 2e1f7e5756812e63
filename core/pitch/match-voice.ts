import { type Clock, driftPpmAt, sessionSecOf, takeSecOf } from '../signal/clock.ts';
import { type AlignedNote, type Alignment, sessionSecAt } from './align-notes.ts';
import type { ExpectedNote, MatchedNote } from './expected-note.ts';
import type { HeardNote } from './heard-notes.ts';
import { type PitchRow, pitchOfSpan } from './pitch-span.ts';
import { isSkipped } from './score-skips.ts';

/** A take's row of pitches and its notes, and where it lies. */
export interface HeardVoice {
  readonly row: PitchRow;
  /** Times of the take. */
  readonly notes: readonly HeardNote[];
  readonly place: Clock;
}

/** A note that was played where another one is written. */
export interface WrongNote {
  readonly expected: ExpectedNote;
  /** Session time, s. */
  readonly fromSec: number;
  /** MIDI key that was heard, by the shift of the whole voice, so that it can be held against the written one. */
  readonly key: number;
}

/** A note this far from the written pitch is another one, cents. */
const WRONG_CENTS = 60;
/** So much of the written note it has to fill, and not be an octave off: that may be the tracker's slip. */
const WRONG_SHARE = 0.6;
const OCTAVE_CENTS = 40;

/** Without a place of its own a note of the score may be looked for this long at most, s. */
const LONGEST_SPAN_SEC = 12;

/** A voice's notes on the session's clock, in their order. */
export function sessionNotes({ notes, place }: HeardVoice): AlignedNote[] {
  return notes.map((note) => ({
    fromSec: sessionSecOf(place, note.fromSec),
    toSec: sessionSecOf(place, note.toSec),
    cents: note.cents + clockCents(place, note.fromSec),
  }));
}

/**
 * What a voice played of the part that it was aligned with. Times come from the alignment; the pitch of each note is then read from the
 * track over its whole stretch near the written pitch, so that two notes heard as one, or one as two, are still measured.
 * session: the voice's notes on the session's clock (`sessionNotes`), with which it was aligned.
 */
export function readPart(
  voice: HeardVoice,
  session: readonly AlignedNote[],
  expected: readonly ExpectedNote[],
  alignment: Alignment,
): { readonly notes: readonly MatchedNote[]; readonly wrong: readonly WrongNote[] } {
  const begins = beginsOf(alignment, session, expected);
  const isOut = expected.map((note, at) => alignment.heardOf[at] === null && isSkipped(alignment.skips, note));
  const notes = expected.flatMap((note, index): MatchedNote[] => {
    if (isOut[index]) return [];
    // What was passed over lies all at one moment.
    let following = index + 1;
    while (following < expected.length && isOut[following]) following++;
    const next = begins[following] ?? Number.POSITIVE_INFINITY;
    const heardIndex = alignment.heardOf[index]!;
    const heard = heardIndex === null ? undefined : voice.notes[heardIndex];
    const read = readNote(voice, note, { heard, fromSec: begins[index]!, next, alignment });
    return read === undefined ? [] : [read];
  });
  const wrong = wrongNotes(session, expected, alignment, begins, new Set(notes.map((note) => note.expected)));
  return { notes, wrong };
}

/** The pitch of one written note; undefined where it is too short or not to be read. fromSec: where it begins; next: where the next one does. */
function readNote(
  { row, place }: HeardVoice,
  note: ExpectedNote,
  at: {
    readonly heard: HeardNote | undefined;
    readonly fromSec: number;
    readonly next: number;
    readonly alignment: Alignment;
  },
): MatchedNote | undefined {
  const { heard, fromSec, next, alignment } = at;
  const lift = 100 * alignment.halfTones;
  const writtenSec = (note.endSec - note.atSec) * alignment.stretch;
  const toSec = Math.min(fromSec + Math.max(0.1, writtenSec), next, fromSec + LONGEST_SPAN_SEC);
  if (toSec - fromSec < 0.06) return undefined;
  const takeSec = takeSecOf(place, fromSec);
  const speed = clockCents(place, takeSec);
  const pitch = pitchOfSpan(row, takeSec, takeSecOf(place, toSec), note.cents + lift - speed);
  if (pitch === undefined) return undefined;
  const cents = pitch.cents + speed - lift;
  return {
    expected: note,
    fromSec,
    toSec,
    onsetSec: heard === undefined ? null : sessionSecOf(place, heard.onsetSec),
    onsetUncertaintySec: heard === undefined ? writtenSec : heard.onsetUncertaintySec,
    cents,
    offCents: cents - note.cents,
    spreadCents: pitch.spreadCents,
    uncertaintyCents: pitch.uncertaintyCents,
  };
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
  const { heardOf } = alignment;
  const known = heardOf.map((index) => (index === null ? undefined : heard[index]!.fromSec));
  const written = expected.map((note) => sessionSecAt(alignment, note.atSec));
  // The nearest matched note on each side, its own place where it is matched itself; -1 where there is none.
  const befores = new Int32Array(known.length);
  const afters = new Int32Array(known.length);
  for (let at = 0, last = -1; at < known.length; at++) befores[at] = last = known[at] === undefined ? last : at;
  for (let at = known.length - 1, next = -1; at >= 0; at--) afters[at] = next = known[at] === undefined ? next : at;
  return known.map((sec, index) => {
    if (sec !== undefined) return sec;
    // They tell how late the player is here.
    const sides = [befores[index]!, afters[index]!];
    const lates = sides.filter((at) => at >= 0).map((at) => known[at]! - written[at]!);
    const late = lates.length === 0 ? 0 : lates.reduce((sum, one) => sum + one, 0) / lates.length;
    return written[index]! + Math.max(-0.5, Math.min(0.5, late));
  });
}

/** Notes that were not found near their pitch, and where another note was heard all along. */
function wrongNotes(
  heard: readonly { readonly fromSec: number; readonly toSec: number; readonly cents: number }[],
  expected: readonly ExpectedNote[],
  { heardOf, halfTones, stretch }: Alignment,
  begins: readonly number[],
  measured: ReadonlySet<ExpectedNote>,
): WrongNote[] {
  const isMatched = new Uint8Array(heard.length);
  for (const index of heardOf) if (index !== null) isMatched[index] = 1;
  return expected.flatMap((note, index): WrongNote[] => {
    if (measured.has(note)) return [];
    const fromSec = begins[index]!;
    const lengthSec = (note.endSec - note.atSec) * stretch;
    const instead = heard.find((one, at) => {
      if (isMatched[at] === 1 && at !== heardOf[index]) return false;
      const filledSec = Math.min(one.toSec, fromSec + lengthSec) - Math.max(one.fromSec, fromSec);
      return filledSec >= WRONG_SHARE * lengthSec;
    });
    if (instead === undefined) return [];
    const off = instead.cents - 100 * halfTones - note.cents;
    const fromOctave = Math.abs(off - 1200 * Math.round(off / 1200));
    if (Math.abs(off) < WRONG_CENTS || (Math.abs(off) > 600 && fromOctave < OCTAVE_CENTS)) return [];
    return [{ expected: note, fromSec, key: note.key + Math.round(off / 100) }];
  });
}
