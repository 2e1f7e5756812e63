import type { SoundFamily } from './score.ts';
import { WaveTables } from './wave-table.ts';

/**
 * A small instrument of our own: two steady tones of one pitch, a bright one and a mellow one, between which a note moves,
 * and the shape of its loudness. No vibrato and no detuned doubles: it is there to tune to, so it must not beat.
 */
export interface Instrument {
  readonly bright: WaveTables;
  readonly mellow: WaveTables;
  readonly shape: NoteShape;
  /** Level that makes families sound about equally loud, linear. */
  readonly level: number;
}

export interface NoteShape {
  /** Rise of a note, s. */
  readonly attackSec: number;
  /** Time in which a note falls by 60 dB while it is held, s; Infinity: it stays. */
  readonly decaySec: number;
  /** Time in which it falls by 60 dB once it has ended, s. */
  readonly releaseSec: number;
  /** How bright a note begins, 0 to 1, and the time in which that share falls to a third, s. */
  readonly brightAtFirst: number;
  readonly brightSec: number;
  /** How bright it stays. */
  readonly brightLater: number;
}

/** Vowel "a" of a middle voice: centre, bandwidth in Hz, level. Source: Peterson and Barney 1952, from memory; rounded. */
const VOWEL: readonly (readonly [number, number, number])[] = [
  [750, 120, 1],
  [1150, 140, 0.6],
  [2600, 200, 0.25],
  [3300, 250, 0.15],
];

/** The instruments of the mock-up, made once a render. Their recipes are our own. */
export function instrumentOf(family: SoundFamily, rateHz: number): Instrument {
  const tables = (levels: (harmonic: number) => number): WaveTables => new WaveTables(levels, rateHz);
  switch (family) {
    case 'bowed':
      return {
        bright: tables((n) => n ** -1.2),
        mellow: tables((n) => n ** -1.9),
        shape: {
          attackSec: 0.07,
          decaySec: Number.POSITIVE_INFINITY,
          releaseSec: 0.25,
          brightAtFirst: 0.7,
          brightSec: 0.15,
          brightLater: 0.45,
        },
        level: 0.9,
      };
    case 'blown':
      return {
        bright: tables((n) => (n % 2 === 1 ? 1 : 0.45) * n ** -1.9),
        mellow: tables((n) => (n === 1 ? 1 : (n % 2 === 1 ? 0.25 : 0.08) * n ** -2)),
        shape: {
          attackSec: 0.035,
          decaySec: Number.POSITIVE_INFINITY,
          releaseSec: 0.12,
          brightAtFirst: 0.8,
          brightSec: 0.06,
          brightLater: 0.35,
        },
        level: 1,
      };
    case 'voice':
      return {
        // The formants of one vowel around a middle pitch of 260 Hz, over a glottal slope of 12 dB an octave.
        bright: tables((n) => vowelLevel(260 * n) * n ** -1),
        mellow: tables((n) => vowelLevel(260 * n) * n ** -1.7),
        shape: {
          attackSec: 0.08,
          decaySec: Number.POSITIVE_INFINITY,
          releaseSec: 0.2,
          brightAtFirst: 0.3,
          brightSec: 0.2,
          brightLater: 0.5,
        },
        level: 0.95,
      };
    case 'plucked':
      return {
        bright: tables((n) => (Math.abs(Math.sin((Math.PI * n) / 5.3)) + 0.05) * n ** -1.1),
        mellow: tables((n) => n ** -2.6),
        shape: { attackSec: 0.003, decaySec: 3, releaseSec: 0.3, brightAtFirst: 0.9, brightSec: 0.18, brightLater: 0 },
        level: 1.2,
      };
    case 'struck':
      return {
        bright: tables((n) => n ** -1.3),
        mellow: tables((n) => n ** -2.2),
        shape: {
          attackSec: 0.004,
          decaySec: 5,
          releaseSec: 0.25,
          brightAtFirst: 0.8,
          brightSec: 0.3,
          brightLater: 0.1,
        },
        level: 1.1,
      };
  }
}

function vowelLevel(hz: number): number {
  return VOWEL.reduce((sum, [centre, width, level]) => sum + level / (1 + ((hz - centre) / width) ** 2), 0.02);
}
