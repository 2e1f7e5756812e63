import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import { type ChordFault, type Standing, whoIsOff } from './chord-fault.ts';
import { type ChordInterval, chordInterval, type Sounding } from './chord-interval.ts';
import { sureAt } from './student-t.ts';
import type { TunedVoice } from './tuned-note.ts';

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
  /** Those of all pairs of notes. */
  readonly intervals: readonly ChordInterval[];
  /** The one that is surest to be heard as off. */
  readonly worst: ChordInterval;
  /** One standard deviation of that distance, cents. */
  readonly uncertaintyCents: number;
  /** The note that is off, where the others and the reference agree on one; null where that cannot be told. */
  readonly fault: ChordFault | null;
}

export interface WorstChords {
  /** The worst first; only what is heard to be off beyond doubt. */
  readonly chords: readonly Chord[];
  /** How many were looked at, and how many of them are heard to be off beyond doubt. */
  readonly measured: number;
  readonly out: number;
  /** Of those, by voice: in how many it is the one that is off, by what it does all through. */
  readonly outByHabit: readonly { readonly voiceId: string; readonly count: number }[];
}

/** Chords shorter than this are passed over, s: too short to hear their tuning. */
const SHORTEST_SEC = 0.25;
/** Over all intervals of a piece, not one is to be told of by chance in 95 of 100 pieces (Bonferroni). */
const FALSE_CHANCE = 0.05;
const MANY = 400;
/** Of chords that one voice spoils by what it does all through, so many are listed: more would tell the same again. */
const MOST_OF_ONE_HABIT = 2;

/**
 * The chords that are most out of tune. A chord is a set of notes of different voices that sound together for a quarter of a second
 * and more, each held against each of the others; of chords that share their worst pair of notes only the worst counts. The measure is how many times
 * the distance from pure and equal, less its uncertainty, exceeds what is heard of such an interval.
 */
export function worstChords(
  voices: readonly TunedVoice[],
  count: number,
  standing: Standing,
  cancel?: Cancel,
): WorstChords {
  const chords = chordsOf(voices, standing, cancel);
  const intervals = chords.reduce((sum, chord) => sum + chord.intervals.length, 0);
  const sure = sureAt(FALSE_CHANCE / Math.max(1, intervals), MANY);
  const out = chords
    .filter(({ worst }) => Math.abs(worst.offCents) >= worst.heardFromCents && surely(worst, sure) > 0)
    .sort((a, b) => surely(b.worst, sure) - surely(a.worst, sure));
  const worst: Chord[] = [];
  const taken = new Set<string>();
  const habits = new Map<string, number>();
  for (const chord of out) {
    const habit = chord.fault?.isHabit === true ? chord.fault.voiceId : undefined;
    const ofHabit = habit === undefined ? 0 : (habits.get(habit) ?? 0) + 1;
    if (habit !== undefined) habits.set(habit, ofHabit);
    const pair = pairOf(chord);
    if (worst.length >= count || taken.has(pair) || ofHabit > MOST_OF_ONE_HABIT) continue;
    taken.add(pair);
    worst.push(chord);
  }
  const outByHabit = [...habits].map(([voiceId, times]) => ({ voiceId, count: times }));
  return {
    chords: worst,
    measured: chords.length,
    out: out.length,
    outByHabit: outByHabit.sort((a, b) => b.count - a.count),
  };
}

/** What is only doubtful (short notes, ringing) does not come before what is sure. */
function surely({ offCents, uncertaintyCents, heardFromCents }: ChordInterval, sure: number): number {
  return (Math.abs(offCents) - sure * uncertaintyCents) / heardFromCents;
}

/** Names the two notes of the worst interval, as long as they are held. */
function pairOf({ worst, notes }: Chord): string {
  const centsOf = (id: string): number => notes.find(({ voiceId }) => voiceId === id)!.cents;
  const { lowVoiceId, highVoiceId } = worst;
  return `${lowVoiceId}:${centsOf(lowVoiceId)}:${highVoiceId}:${centsOf(highVoiceId)}`;
}

function chordsOf(voices: readonly TunedVoice[], standing: Standing, cancel: Cancel | undefined): Chord[] {
  const cuts = cutsOf(voices);
  const next = voices.map(() => 0);
  const chords: Chord[] = [];
  let open: { fromSec: number; sounding: Sounding[] } | undefined;
  const close = (toSec: number): void => {
    throwIfCancelled(cancel);
    if (open !== undefined && open.sounding.length > 1 && toSec - open.fromSec >= SHORTEST_SEC) {
      chords.push(chordOf(open.fromSec, toSec, open.sounding, standing));
    }
    open = undefined;
  };
  for (let index = 0; index + 1 < cuts.length; index++) {
    const cut = cuts[index]!;
    const middle = 0.5 * (cut + cuts[index + 1]!);
    const sounding: Sounding[] = [];
    for (let at = 0; at < voices.length; at++) {
      const voice = voices[at]!;
      while (next[at]! < voice.notes.length && voice.notes[next[at]!]!.toSec <= middle) next[at]!++;
      const note = voice.notes[next[at]!];
      if (note !== undefined && note.fromSec <= middle) sounding.push({ voice, note });
    }
    if (open !== undefined && isSame(open.sounding, sounding)) continue;
    close(cut);
    open = { fromSec: cut, sounding };
  }
  close(cuts.at(-1) ?? 0);
  return chords;
}

/** All moments at which a note begins or ends, in order, each once. */
function cutsOf(voices: readonly TunedVoice[]): Float64Array {
  const cuts = new Float64Array(voices.reduce((sum, { notes }) => sum + 2 * notes.length, 0));
  let count = 0;
  for (const { notes } of voices) {
    for (const { fromSec, toSec } of notes) {
      cuts[count++] = fromSec;
      cuts[count++] = toSec;
    }
  }
  cuts.sort();
  let kept = 0;
  for (let n = 0; n < count; n++) if (n === 0 || cuts[n] !== cuts[kept - 1]) cuts[kept++] = cuts[n]!;
  return cuts.subarray(0, kept);
}

function isSame(some: readonly Sounding[], others: readonly Sounding[]): boolean {
  if (some.length !== others.length) return false;
  for (let n = 0; n < some.length; n++) if (some[n]!.note !== others[n]!.note) return false;
  return true;
}

function chordOf(fromSec: number, toSec: number, sounding: readonly Sounding[], standing: Standing): Chord {
  const sorted = [...sounding].sort((a, b) => a.note.key - b.note.key || a.note.cents - b.note.cents);
  const isNatural = hasSeventh(sorted.map(({ note }) => Math.round(note.key)));
  const intervals = sorted.flatMap((low, at) =>
    sorted.slice(at + 1).map((high) => chordInterval(low, high, isNatural)),
  );
  const worst = intervals.reduce((one, other) => (surely(other, 2) > surely(one, 2) ? other : one));
  return {
    fromSec,
    toSec,
    bar: sorted[0]!.note.bar === null ? null : Math.max(...sorted.map(({ note }) => note.bar ?? 0)),
    notes: sorted.map(({ voice, note }) => ({ voiceId: voice.id, name: voice.name, key: note.key, cents: note.cents })),
    intervals,
    worst,
    uncertaintyCents: worst.uncertaintyCents,
    fault: whoIsOff(sorted, intervals, 0.5 * (fromSec + toSec), standing),
  };
}

/** Whether keys hold a root, its major third and its minor seventh, in any octave. */
function hasSeventh(keys: readonly number[]): boolean {
  const classes = new Set(keys.map((key) => ((key % 12) + 12) % 12));
  return [...classes].some((root) => classes.has((root + 4) % 12) && classes.has((root + 10) % 12));
}
