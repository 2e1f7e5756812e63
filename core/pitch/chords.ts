import { type IntervalSize, intervalSize } from './just-intervals.ts';
import type { TunedNote, TunedVoice } from './tuned-note.ts';

/** Notes that sound together. Times on the session's clock, s. */
export interface Chord {
  readonly fromSec: number;
  readonly toSec: number;
  readonly bar: number | null;
  /** Low to high. */
  readonly notes: readonly {
    readonly voiceId: string;
    readonly name: string;
    readonly key: number;
    readonly cents: number;
  }[];
  readonly intervals: readonly ChordInterval[];
  /** The interval that is farthest from both its equal and its pure size. */
  readonly worst: ChordInterval;
  /** One standard deviation of that distance, cents. */
  readonly uncertaintyCents: number;
}

export interface ChordInterval extends IntervalSize {
  readonly lowVoiceId: string;
  readonly highVoiceId: string;
}

/** Chords shorter than this are passed over, s: too short to hear their tuning. */
const SHORTEST_SEC = 0.25;
/** How many standard deviations are taken off before chords are compared. */
const SURE = 2;

interface Sounding {
  readonly voice: TunedVoice;
  readonly note: TunedNote;
}

/**
 * The chords that are most out of tune, the worst first, and how many were measured. A chord is a set of notes of
 * different voices that sound together for a quarter of a second and more; of chords that share their worst pair of notes only
 * the worst counts.
 */
export function worstChords(voices: readonly TunedVoice[], count: number): { chords: Chord[]; measured: number } {
  const chords = chordsOf(voices);
  // What is only doubtful (short notes, ringing) does not come before what is sure.
  const surely = (chord: Chord): number => Math.abs(chord.worst.offCents) - SURE * chord.uncertaintyCents;
  const sorted = chords.sort((a, b) => surely(b) - surely(a));
  const taken = new Set<string>();
  const worst: Chord[] = [];
  for (const chord of sorted) {
    if (worst.length >= count || surely(chord) <= 0) break;
    const pair = `${chord.worst.lowVoiceId}:${chord.worst.highVoiceId}:${Math.round(chord.worst.soundingCents * 100)}`;
    if (taken.has(pair)) continue;
    taken.add(pair);
    worst.push(chord);
  }
  return { chords: worst, measured: chords.length };
}

function chordsOf(voices: readonly TunedVoice[]): Chord[] {
  const cuts = [...new Set(voices.flatMap((voice) => voice.notes.flatMap((note) => [note.fromSec, note.toSec])))].sort(
    (a, b) => a - b,
  );
  const next = voices.map(() => 0);
  const chords: Chord[] = [];
  let open: { fromSec: number; sounding: Sounding[] } | undefined;
  const close = (toSec: number): void => {
    if (open !== undefined && open.sounding.length > 1 && toSec - open.fromSec >= SHORTEST_SEC) {
      chords.push(chordOf(open.fromSec, toSec, open.sounding));
    }
    open = undefined;
  };
  for (const [index, cut] of cuts.slice(0, -1).entries()) {
    const middle = 0.5 * (cut + cuts[index + 1]!);
    const sounding = voices.flatMap((voice, at): Sounding[] => {
      while (next[at]! < voice.notes.length && voice.notes[next[at]!]!.toSec <= middle) next[at]!++;
      const note = voice.notes[next[at]!];
      return note !== undefined && note.fromSec <= middle ? [{ voice, note }] : [];
    });
    const same =
      open !== undefined &&
      open.sounding.length === sounding.length &&
      open.sounding.every((one, at) => one.note === sounding[at]!.note);
    if (same) continue;
    close(cut);
    open = { fromSec: cut, sounding };
  }
  close(cuts.at(-1) ?? 0);
  return chords;
}

function chordOf(fromSec: number, toSec: number, sounding: readonly Sounding[]): Chord {
  const sorted = [...sounding].sort((a, b) => a.note.key - b.note.key || a.note.cents - b.note.cents);
  const intervals: ChordInterval[] = [];
  let worst: ChordInterval | undefined;
  let uncertaintyCents = 0;
  for (let low = 0; low < sorted.length; low++) {
    for (let high = low + 1; high < sorted.length; high++) {
      const a = sorted[low]!;
      const b = sorted[high]!;
      const size = intervalSize(Math.round(b.note.key) - Math.round(a.note.key), b.note.cents - a.note.cents);
      const interval = { ...size, lowVoiceId: a.voice.id, highVoiceId: b.voice.id };
      intervals.push(interval);
      if (worst === undefined || Math.abs(interval.offCents) > Math.abs(worst.offCents)) {
        worst = interval;
        uncertaintyCents = Math.hypot(a.note.uncertaintyCents, b.note.uncertaintyCents);
      }
    }
  }
  return {
    fromSec,
    toSec,
    bar: sorted[0]!.note.bar === null ? null : Math.max(...sorted.map(({ note }) => note.bar ?? 0)),
    notes: sorted.map(({ voice, note }) => ({ voiceId: voice.id, name: voice.name, key: note.key, cents: note.cents })),
    intervals,
    worst: worst!,
    uncertaintyCents,
  };
}
