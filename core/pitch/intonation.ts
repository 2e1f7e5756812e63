import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import { pitchThresholds, type Threshold } from './audibility.ts';
import type { Standing } from './chord-fault.ts';
import { type Chord, worstChords } from './chords.ts';
import {
  ensembleDrift,
  middleSecOf,
  type PitchDrift,
  type Reference,
  referenceOf,
  type VoiceCentre,
  voiceCentre,
} from './ensemble-pitch.ts';
import { hzOf } from './pitch-span.ts';
import type { TunedNote, TunedVoice } from './tuned-note.ts';
import { type VoiceHabit, voiceHabits } from './voice-habits.ts';

/** How an ensemble is in tune. Cents; times on the session's clock, s. */
export interface IntonationReport {
  readonly reference: Reference;
  readonly drift: PitchDrift | null;
  readonly voices: readonly VoiceIntonation[];
  /** The worst first: heard to be off, beyond doubt. At most two that one voice spoils by its habit. */
  readonly worstChords: readonly Chord[];
  /** Simultaneous notes that were compared, and how many of them are heard to be off beyond doubt. */
  readonly chordsMeasured: number;
  readonly chordsOut: number;
  /** Of those: in how many a voice is the one that is off by what it does all through; the most first. */
  readonly chordsOutByHabit: readonly { readonly voiceId: string; readonly count: number }[];
  readonly thresholds: readonly Threshold[];
}

export interface VoiceIntonation {
  readonly id: string;
  readonly name: string;
  readonly notes: readonly NoteIntonation[];
  /** Its own centre above the ensemble's reference in use, and one standard deviation; null without notes. */
  readonly centreCents: number | null;
  readonly centreUncertaintyCents: number | null;
  /** Robust standard deviation of its notes about its own centre. */
  readonly spreadCents: number | null;
  readonly habits: readonly VoiceHabit[];
}

export interface NoteIntonation {
  readonly fromSec: number;
  readonly toSec: number;
  readonly key: number;
  readonly bar: number | null;
  readonly hz: number;
  /** Against the temperament at the reference in use. */
  readonly offCents: number;
  readonly uncertaintyCents: number;
  readonly spreadCents: number;
}

/**
 * Holds every voice against the temperament and against the others. Undefined where no note was heard. referenceHz: A4 to hold notes
 * against; null for the ensemble's own. Throws CancelledError.
 */
export function intonationReport(
  voices: readonly TunedVoice[],
  options: { readonly referenceHz: number | null; readonly chords?: number; readonly cancel?: Cancel | undefined },
): IntonationReport | undefined {
  const { cancel } = options;
  const centres = voices.map((voice) => {
    throwIfCancelled(cancel);
    return voiceCentre(voice.notes);
  });
  if (centres.every((centre) => centre === undefined)) return undefined;
  const reference = referenceOf(
    centres,
    voices.map(({ notes }) => notes.length),
    options.referenceHz,
  );
  const usedCents = 1200 * Math.log2(reference.usedHz / 440);
  const drift = ensembleDrift(voices, centres, reference.cents - usedCents);
  const habits = voiceHabits(voices, centres, reference, drift, cancel);
  const standing = standingOf(voices, centres, habits, { ownCents: reference.cents, drift });
  const { chords, measured, out, outByHabit } = worstChords(voices, options.chords ?? 5, standing, cancel);
  return {
    reference,
    drift,
    voices: voices.map((voice, index): VoiceIntonation => {
      const centre = centres[index];
      return {
        id: voice.id,
        name: voice.name,
        notes: voice.notes.map((note) => ({
          fromSec: note.fromSec,
          toSec: note.toSec,
          key: note.key,
          bar: note.bar,
          hz: hzOf(note.cents),
          offCents: note.cents - note.targetCents - usedCents,
          uncertaintyCents: note.uncertaintyCents,
          spreadCents: note.spreadCents,
        })),
        centreCents: centre === undefined ? null : centre.cents - usedCents,
        centreUncertaintyCents: centre?.estimate.uncertainty ?? null,
        spreadCents: centre?.spread ?? null,
        habits: habits[index]!,
      };
    }),
    worstChords: chords,
    chordsMeasured: measured,
    chordsOut: out,
    chordsOutByHabit: outByHabit,
    thresholds: pitchThresholds,
  };
}

/** What the notes of a chord are held against, to find the one that is off. */
function standingOf(
  voices: readonly TunedVoice[],
  centres: readonly (VoiceCentre | undefined)[],
  habits: readonly (readonly VoiceHabit[])[],
  by: { readonly ownCents: number; readonly drift: PitchDrift | null },
): Standing {
  const { ownCents, drift } = by;
  const referenceAt = (sec: number): number => {
    if (drift === null || Math.abs(drift.totalCents) <= 2 * drift.uncertaintyCents) return ownCents;
    return ownCents + (drift.centsPerMinute / 60) * (sec - 0.5 * (drift.fromSec + drift.toSec));
  };
  const habitAt = (voiceId: string, note: TunedNote): number => {
    const n = voices.findIndex(({ id }) => id === voiceId);
    const own = habits[n]!.filter(({ kind }) => kind !== 'uneven');
    const centre = centres[n]!;
    if (own.length === 0) return 0;
    if (own.every(({ kind }) => kind === 'highAll' || kind === 'lowAll')) return centre.cents - ownCents;
    const { trend } = centre;
    if (trend === undefined) return 0;
    const inTime = trend.perSec.value * (middleSecOf(note) - trend.middleSec);
    return trend.centre.value - ownCents + inTime + trend.perKey.value * (note.key - trend.middleKey);
  };
  return { referenceAt, habitAt };
}
