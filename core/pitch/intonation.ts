import { pitchThresholds, type Threshold } from './audibility.ts';
import { type Chord, worstChords } from './chords.ts';
import { hzOf } from './pitch-span.ts';
import { robustLine, weightedMedian } from './robust-line.ts';
import type { TunedNote, TunedVoice } from './tuned-note.ts';
import { type VoiceHabit, voiceHabits } from './voice-habits.ts';

/** How an ensemble is in tune. Cents; times on the session's clock, s. */
export interface IntonationReport {
  readonly reference: Reference;
  readonly drift: PitchDrift | null;
  readonly voices: readonly VoiceIntonation[];
  /** The worst first. */
  readonly worstChords: readonly Chord[];
  /** Simultaneous notes that were compared. */
  readonly chordsMeasured: number;
  readonly thresholds: readonly Threshold[];
}

export interface Reference {
  /** A4 the ensemble plays by, and one standard deviation in cents. */
  readonly hz: number;
  readonly uncertaintyCents: number;
  /** Of it above A4 = 440 Hz. */
  readonly cents: number;
  /** What notes are held against: the ensemble's own, or a given one. */
  readonly usedHz: number;
  readonly given: boolean;
}

/** How the ensemble's pitch moves over the piece. */
export interface PitchDrift {
  readonly fromSec: number;
  readonly toSec: number;
  /** End less beginning of a straight line, and one standard deviation. */
  readonly totalCents: number;
  readonly uncertaintyCents: number;
  readonly centsPerMinute: number;
  /** Pitch in stretches of some 10 s, cents above the reference. */
  readonly points: readonly { readonly sec: number; readonly cents: number }[];
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

const POINT_SEC = 10;
/** Two voices that agree on nothing still do not make the reference surer than this, cents. */
const LEAST_UNCERTAINTY = 0.3;

/**
 * Holds every voice against the temperament and against the others. The ensemble's reference is the mean of the voices'
 * centres (each the median of its notes, weighted by length), so that no voice counts more for having more notes. Undefined where
 * no note was heard. referenceHz: A4 to hold notes against; null for the ensemble's own.
 */
export function intonationReport(
  voices: readonly TunedVoice[],
  options: { readonly referenceHz: number | null; readonly chords?: number },
): IntonationReport | undefined {
  const centres = voices.map((voice) => centreOf(voice.notes));
  const known = centres.filter((centre) => centre !== undefined);
  if (known.length === 0) return undefined;
  const cents = known.reduce((sum, one) => sum + one.cents, 0) / known.length;
  const uncertaintyCents = Math.max(
    LEAST_UNCERTAINTY,
    Math.sqrt(known.reduce((sum, one) => sum + one.uncertainty ** 2, 0)) / known.length,
  );
  const usedCents = options.referenceHz === null ? cents : 1200 * Math.log2(options.referenceHz / 440);
  const reference: Reference = {
    hz: hzOf(cents),
    uncertaintyCents,
    cents,
    usedHz: hzOf(usedCents),
    given: options.referenceHz !== null,
  };
  const { chords, measured } = worstChords(voices, options.chords ?? 5);
  return {
    reference,
    drift: driftOf(
      voices,
      centres.map((centre) => centre?.cents ?? 0),
      cents - usedCents,
    ),
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
        centreUncertaintyCents: centre?.uncertainty ?? null,
        spreadCents: centre?.spread ?? null,
        habits: centre === undefined ? [] : voiceHabits(voice, centre.cents - usedCents, centre.uncertainty),
      };
    }),
    worstChords: chords,
    chordsMeasured: measured,
    thresholds: pitchThresholds,
  };
}

/** Median of a voice's distances from the temperament at 440 Hz, weighted by length. */
function centreOf(notes: readonly TunedNote[]): { cents: number; uncertainty: number; spread: number } | undefined {
  if (notes.length === 0) return undefined;
  const offs = notes.map((note) => note.cents - note.targetCents);
  const weights = notes.map((note) => note.toSec - note.fromSec);
  const cents = weightedMedian(offs, weights);
  const spread =
    1.4826 *
    weightedMedian(
      offs.map((off) => Math.abs(off - cents)),
      weights,
    );
  const own = notes.reduce((sum, note) => sum + note.uncertaintyCents, 0) / notes.length;
  return {
    cents,
    spread,
    uncertainty: Math.hypot((1.2533 * spread) / Math.sqrt(notes.length), own / Math.sqrt(notes.length)),
  };
}

/** The voices' common movement: each about its own centre, so that a voice that pauses does not move the whole. */
function driftOf(voices: readonly TunedVoice[], centres: readonly number[], baseCents: number): PitchDrift | null {
  const points = voices
    .flatMap((voice, index) =>
      voice.notes.map((note): [number, number] => [
        0.5 * (note.fromSec + note.toSec),
        note.cents - note.targetCents - centres[index]! + baseCents,
      ]),
    )
    .sort((a, b) => a[0] - b[0]);
  const line = robustLine(points);
  if (line === undefined) return null;
  const fromSec = points[0]![0];
  const toSec = points.at(-1)![0];
  const count = Math.max(1, Math.round((toSec - fromSec) / POINT_SEC));
  const width = (toSec - fromSec) / count;
  const stretches = Array.from({ length: count }, (_, n) => {
    const inside = points.filter(([x]) => x >= fromSec + n * width && x <= fromSec + (n + 1) * width);
    return {
      sec: fromSec + (n + 0.5) * width,
      cents: weightedMedian(
        inside.map(([, y]) => y),
        inside.map(() => 1),
      ),
    };
  });
  return {
    fromSec,
    toSec,
    totalCents: line.slope * (toSec - fromSec),
    uncertaintyCents: line.slopeUncertainty * (toSec - fromSec),
    centsPerMinute: 60 * line.slope,
    points: stretches.filter((point) => !Number.isNaN(point.cents)),
  };
}
