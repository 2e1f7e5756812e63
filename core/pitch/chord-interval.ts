import { beatsPerSec, heardFromCents, type IntervalSize, intervalSize } from './just-intervals.ts';
import { hzOf } from './pitch-span.ts';
import type { TunedNote, TunedVoice } from './tuned-note.ts';

/** A note of a chord, and who plays it. */
export interface Sounding {
  readonly voice: TunedVoice;
  readonly note: TunedNote;
}

/** Two notes of a chord, one against the other. */
export interface ChordInterval extends IntervalSize {
  readonly lowVoiceId: string;
  readonly highVoiceId: string;
  /** One standard deviation of `soundingCents`. */
  readonly uncertaintyCents: number;
  /** From here on it is heard to be off, cents: see `heardFromCents`. */
  readonly heardFromCents: number;
  /** Of the lowest partials that should meet; null where they lie too high to beat. */
  readonly beatsPerSec: number | null;
}

/** isNatural: a minor seventh may be the natural one of the chord. */
export function chordInterval(low: Sounding, high: Sounding, isNatural: boolean): ChordInterval {
  const { note: a } = low;
  const { note: b } = high;
  const size = intervalSize(Math.round(b.key) - Math.round(a.key), b.cents - a.cents, {
    tunedCents: b.targetCents - a.targetCents,
    isNatural,
  });
  const lowHz = hzOf(Math.min(a.cents, b.cents));
  return {
    ...size,
    lowVoiceId: low.voice.id,
    highVoiceId: high.voice.id,
    uncertaintyCents: Math.hypot(a.uncertaintyCents, b.uncertaintyCents),
    heardFromCents: heardFromCents(size, lowHz, Math.min(a.toSec, b.toSec) - Math.max(a.fromSec, b.fromSec)),
    beatsPerSec: beatsPerSec(size, lowHz),
  };
}
