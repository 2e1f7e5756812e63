import { type Alignment, sessionSecAt } from './align-notes.ts';
import type { MatchedNote } from './expected-note.ts';

/** A note with the pitch it should have; times on the session's clock, s. */
export interface TunedNote {
  readonly fromSec: number;
  readonly toSec: number;
  /** MIDI key. */
  readonly key: number;
  /** What sounds, and what the temperament asks for with A4 = 440 Hz: cents above A4 = 440 Hz. */
  readonly cents: number;
  readonly targetCents: number;
  readonly spreadCents: number;
  readonly uncertaintyCents: number;
  readonly bar: number | null;
  readonly onsetSec: number | null;
  readonly onsetUncertaintySec: number;
  /** Where the guide or the score has it begin; null where neither tells. */
  readonly expectedSec: number | null;
}

/** A voice of the ensemble with its notes, in time order. */
export interface TunedVoice {
  readonly id: string;
  readonly name: string;
  readonly notes: readonly TunedNote[];
  /** One standard deviation of where the whole voice lies, s; 0 when absent. */
  readonly placeUncertaintySec?: number;
}

/**
 * Notes matched to a score, as they sound. alignment: session time of a time of the score, and how far the whole voice
 * sounds above it.
 */
export function tunedFromScore(
  notes: readonly MatchedNote[],
  alignment: Omit<Alignment, 'heardOf' | 'cost'>,
): TunedNote[] {
  return notes.map((note) => ({
    fromSec: note.fromSec,
    toSec: note.toSec,
    key: note.expected.key + alignment.halfTones,
    cents: note.cents + 100 * alignment.halfTones,
    targetCents: note.expected.cents + 100 * alignment.halfTones,
    spreadCents: note.spreadCents,
    uncertaintyCents: note.uncertaintyCents,
    bar: note.expected.bar,
    onsetSec: note.onsetSec,
    onsetUncertaintySec: note.onsetUncertaintySec,
    expectedSec: sessionSecAt(alignment, note.expected.atSec),
  }));
}

/** A heard note without a score; times on the session's clock. */
export type FreeNote = Omit<TunedNote, 'key' | 'targetCents'>;

/**
 * Notes without a score: each belongs to the nearest key of the temperament at the ensemble's own reference, which is the
 * circular mean of all distances to keys (a half tone is the circle), weighted by length. keyCents: cents above A4 = 440 Hz
 * of a key.
 */
export function tunedFromKeys(
  voices: readonly { readonly id: string; readonly name: string; readonly notes: readonly FreeNote[] }[],
  keyCents: (key: number) => number,
): TunedVoice[] {
  let sine = 0;
  let cosine = 0;
  for (const { notes } of voices) {
    for (const note of notes) {
      const key = nearestKey(note.cents, keyCents);
      const turn = (2 * Math.PI * (note.cents - keyCents(key))) / 100;
      const weight = note.toSec - note.fromSec;
      sine += weight * Math.sin(turn);
      cosine += weight * Math.cos(turn);
    }
  }
  const shift = (100 * Math.atan2(sine, cosine)) / (2 * Math.PI);
  return voices.map(({ id, name, notes }) => ({
    id,
    name,
    notes: notes.map((note) => {
      const key = nearestKey(note.cents - shift, keyCents);
      return { ...note, key, targetCents: keyCents(key) };
    }),
  }));
}

function nearestKey(cents: number, keyCents: (key: number) => number): number {
  const middle = 69 + Math.round(cents / 100);
  let best = middle;
  for (const key of [middle - 1, middle + 1]) {
    if (Math.abs(cents - keyCents(key)) < Math.abs(cents - keyCents(best))) best = key;
  }
  return best;
}
