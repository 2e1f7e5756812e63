import { Random } from '../core/signal/random.ts';

/** A written note: beats count crotchets from the first bar line of the music, pitch is a MIDI note number. */
export interface WrittenNote {
  readonly beat: number;
  readonly lengthBeats: number;
  readonly midi: number;
}

/** A note as a player played it, on the session's clock. */
export interface PlayedNote {
  readonly startSec: number;
  readonly lengthSec: number;
  readonly midi: number;
  /** Deviation from equal temperament at 440 Hz, cents. */
  readonly cents: number;
  /** Linear, about 1. */
  readonly loudnessRatio: number;
}

export type InstrumentName = 'descantRecorder' | 'tenorRecorder' | 'trebleViol' | 'bassViol';

/** One part of the canon. */
export interface Part {
  readonly name: string;
  readonly instrument: InstrumentName;
  readonly notes: readonly WrittenNote[];
}

export const TITLE = 'Evening canon, for three over a ground';
const TEMPO_BPM = 108;
/** Crotchets of one phrase of the canon: two bars of four. */
const PHRASE_BEATS = 8;
const PHRASES_PLAYED = 6;
export const BEATS_PER_BAR = 4;
const FINAL_BEAT = PHRASE_BEATS * PHRASES_PLAYED;
/** The last chord is held for a bar. */
export const TOTAL_BEATS = FINAL_BEAT + BEATS_PER_BAR;
/** From here on the tempo broadens. */
const BROADEN_FROM_BEAT = FINAL_BEAT - 4;
const BROADENING = 0.28;

/** Guide times, seconds from its first sample: a stretch of silence, the cue to clap on, then a bar of count-in. */
export const CUE_SEC = 3.4;
export const COUNT_IN_SEC = 5.0;
export const MUSIC_SEC = COUNT_IN_SEC + (BEATS_PER_BAR * 60) / TEMPO_BPM;

/** [MIDI note, beats]: the four phrases over the harmonies F, D minor, G minor, C, each of two beats. */
type Phrase = readonly (readonly [midi: number, beats: number])[];

const F4 = 65;
const G4 = 67;
const A4 = 69;
const B4F = 70;
const C5 = 72;
const D5 = 74;
const E5 = 76;
const F5 = 77;
const D4 = 62;
const E4 = 64;
const C4 = 60;

/** Each phrase keeps to its own chord notes on the beats, so that any three of them sound together without parallels. */
const CANON: readonly Phrase[] = [
  [
    [F4, 1.5],
    [G4, 0.5],
    [A4, 2],
    [D4, 1.5],
    [F4, 0.5],
    [E4, 2],
  ],
  [
    [A4, 1],
    [B4F, 0.5],
    [C5, 0.5],
    [D5, 1],
    [A4, 1],
    [B4F, 1.5],
    [A4, 0.5],
    [G4, 2],
  ],
  [
    [C5, 1],
    [D5, 0.5],
    [E5, 0.5],
    [F5, 2],
    [D5, 2],
    [C5, 2],
  ],
  [
    [F4, 0.5],
    [A4, 0.5],
    [C5, 1],
    [A4, 0.5],
    [D5, 0.5],
    [A4, 0.5],
    [F4, 0.5],
    [G4, 0.5],
    [B4F, 0.5],
    [G4, 0.5],
    [D4, 0.5],
    [E4, 1],
    [C4, 0.5],
    [E4, 0.5],
  ],
];

/** The ground in its plain form and with divisions. */
const GROUND: readonly Phrase[] = [
  [
    [F4 - 12, 2],
    [D4 - 12, 2],
    [G4 - 24, 2],
    [C4 - 12, 2],
  ],
  [
    [F4 - 12, 1.5],
    [E4 - 12, 0.5],
    [D4 - 12, 2],
    [G4 - 24, 1],
    [B4F - 24, 1],
    [C4 - 12, 1],
    [E4 - 12, 1],
  ],
  [
    [F4 - 12, 1.5],
    [E4 - 12, 0.5],
    [D4 - 12, 2],
    [G4 - 24, 1],
    [B4F - 24, 1],
    [C4 - 12, 2],
  ],
];
const GROUND_ORDER = [0, 0, 1, 0, 2, 0];

function write(phrases: readonly Phrase[], fromBeat: number, transpose: number, finalMidi: number): WrittenNote[] {
  const notes: WrittenNote[] = [];
  let beat = fromBeat;
  for (const phrase of phrases) {
    for (const [midi, lengthBeats] of phrase) {
      notes.push({ beat, lengthBeats, midi: midi + transpose });
      beat += lengthBeats;
    }
  }
  notes.push({ beat, lengthBeats: TOTAL_BEATS - beat, midi: finalMidi + transpose });
  return notes;
}

/** A voice of the canon that enters after `rests` phrases and goes round until the last chord. */
function canonVoice(rests: number, transpose: number): WrittenNote[] {
  const phrases = Array.from({ length: PHRASES_PLAYED - rests }, (_, i) => CANON[i % CANON.length]!);
  const next = CANON[(PHRASES_PLAYED - rests) % CANON.length]!;
  return write(phrases, rests * PHRASE_BEATS, transpose, next[0]![0]);
}

/** The four parts from top to bottom, at sounding pitch. */
export const PARTS: readonly Part[] = [
  { name: 'Descant recorder', instrument: 'descantRecorder', notes: canonVoice(0, 12) },
  { name: 'Tenor recorder', instrument: 'tenorRecorder', notes: canonVoice(1, 0) },
  { name: 'Treble viol', instrument: 'trebleViol', notes: canonVoice(2, 0) },
  {
    name: 'Bass viol',
    instrument: 'bassViol',
    notes: write(
      GROUND_ORDER.map((form) => GROUND[form]!),
      0,
      0,
      F4 - 24,
    ),
  },
];

/** Session seconds of a beat of the music; the tempo is steady and broadens in the last bar. Beats before 0 count in. */
export function beatToSec(beat: number): number {
  const beatSec = 60 / TEMPO_BPM;
  const late = Math.max(0, Math.min(beat, FINAL_BEAT) - BROADEN_FROM_BEAT);
  const span = FINAL_BEAT - BROADEN_FROM_BEAT;
  const after = Math.max(0, beat - FINAL_BEAT);
  return MUSIC_SEC + beatSec * (beat + (BROADENING * late * late) / (2 * span) + BROADENING * after);
}

/** Where the guide ends, seconds: the last chord and a little air. */
export const GUIDE_LENGTH_SEC = beatToSec(TOTAL_BEATS) + 1.2;

/** How freely a player plays: standard deviations, and how far ahead of the beat the bow or breath starts. */
export interface Freedom {
  readonly timingSdSec: number;
  readonly pitchSdCents: number;
  readonly tuningCents: number;
  readonly aheadSec: number;
}

/** What the guide plays: exact and in equal temperament. */
export const EXACT: Freedom = { timingSdSec: 0, pitchSdCents: 0, tuningCents: 0, aheadSec: 0 };

/** A part as played: times, pitch and loudness scattered by a seeded hand. */
export function perform(part: Part, freedom: Freedom, seed: number): PlayedNote[] {
  const random = new Random(seed);
  const bounded = (): number => Math.max(-2.2, Math.min(2.2, random.gaussian()));
  const starts = part.notes.map((note) => beatToSec(note.beat) - freedom.aheadSec + freedom.timingSdSec * bounded());
  return part.notes.map((note, i) => {
    const startSec = starts[i]!;
    const endSec = starts[i + 1] ?? beatToSec(note.beat + note.lengthBeats) + 2 * freedom.timingSdSec * bounded();
    const onBar = note.beat % BEATS_PER_BAR === 0 ? 1.06 : 1;
    return {
      startSec,
      lengthSec: endSec - startSec,
      midi: note.midi,
      cents: freedom.tuningCents + freedom.pitchSdCents * bounded(),
      loudnessRatio: onBar * (1 + (freedom.timingSdSec > 0 ? 0.06 * bounded() : 0)),
    };
  });
}
