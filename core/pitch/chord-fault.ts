import { HEARD_CENTS } from './audibility.ts';
import type { ChordInterval, Sounding } from './chord-interval.ts';
import { medianOf } from './pitch-span.ts';
import type { TunedNote } from './tuned-note.ts';

/** The note of a chord that is off. */
export interface ChordFault {
  readonly voiceId: string;
  /** Above 0 too high for the others. */
  readonly cents: number;
  readonly uncertaintyCents: number;
  /** Whether this voice does it all through, by more than half. */
  readonly isHabit: boolean;
}

/** What notes stand on. */
export interface Standing {
  /** The reference at a time, cents above the temperament at A4 = 440 Hz: with what all do together. */
  readonly referenceAt: (sec: number) => number;
  /** What a voice is off at a note by its habits, cents; 0 without. */
  readonly habitAt: (voiceId: string, note: TunedNote) => number;
}

/** How many standard deviations a note is to be farther off than the next one. */
const SURE = 2;

/**
 * Which note of a chord is off: for each the middle (median) of what the others and the reference say of it, the one that lies
 * farthest, where it does so beyond doubt. Two voices that are off alike leave it open, as do two voices off to either side of the reference.
 */
export function whoIsOff(
  sounding: readonly Sounding[],
  intervals: readonly ChordInterval[],
  sec: number,
  standing: Standing,
): ChordFault | null {
  const referenceCents = standing.referenceAt(sec);
  const told = sounding.map(({ voice, note }) => {
    const others = intervals.flatMap(({ lowVoiceId, highVoiceId, offCents }) => {
      if (highVoiceId === voice.id) return [offCents];
      return lowVoiceId === voice.id ? [-offCents] : [];
    });
    const cents = medianOf([...others, note.cents - note.targetCents - referenceCents]);
    return { voice, note, cents };
  });
  const [first, second] = [...told].sort((a, b) => Math.abs(b.cents) - Math.abs(a.cents));
  if (first === undefined || second === undefined) return null;
  const doubt = Math.hypot(first.note.uncertaintyCents, second.note.uncertaintyCents);
  const ahead = Math.abs(first.cents) - Math.abs(second.cents);
  if (Math.abs(first.cents) < HEARD_CENTS || ahead <= Math.max(2, SURE * doubt)) return null;
  const habit = standing.habitAt(first.voice.id, first.note);
  return {
    voiceId: first.voice.id,
    cents: first.cents,
    uncertaintyCents: doubt,
    isHabit: habit * first.cents > 0 && Math.abs(habit) > 0.5 * Math.abs(first.cents),
  };
}
