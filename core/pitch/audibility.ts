/** A figure below which a difference is not heard or not minded, with where it comes from. */
export interface Threshold {
  readonly value: number;
  readonly unit: 'cents' | 'ms';
  readonly what: string;
  readonly source: string;
}

/** What trained listeners hear in long notes of middle pitch, cents; see `pitchThresholds`. */
export const HEARD_CENTS = 6;

/** From here on a note is said to be out of tune, cents: solo players vary by 10 to 20 against any fixed tuning. */
export const WARN_CENTS = 15;

/** Said of what is heard, but lies below it. */
export const FEW_MIND = '(few will mind)';

/** Named beside every figure of intonation. */
export const pitchThresholds: readonly Threshold[] = [
  {
    value: HEARD_CENTS,
    unit: 'cents',
    what: 'the smallest difference trained listeners hear in long notes of middle pitch',
    source:
      'psychoacoustic textbooks, from memory (5 to 6 cents); two bare tones one after the other are told apart from 0.2 % or 3.5 cents on, 500 Hz to 2 kHz (Open University, Hearing, 11.2)',
  },
  {
    value: WARN_CENTS,
    unit: 'cents',
    what: 'the spread of singers in a choral unison is as much or more; Partsong speaks of a note from here on',
    source: 'Cuesta, Gomez, Martorell and Loaiciga 2018 (16 to 30 cents in a semi-professional choir)',
  },
  {
    value: 50,
    unit: 'cents',
    what: 'accepted by listeners in sung solo melody',
    source: 'Lindgren and Sundberg 1979',
  },
];

/** From here on a voice is said to be early or late, ms. */
export const WARN_MS = 20;

/** Named beside every figure of timing. */
export const timingThresholds: readonly Threshold[] = [
  {
    value: 6,
    unit: 'ms',
    what: 'the least displacement heard in an even row of notes up to 240 ms apart; 2.5 % of the distance where they are slower',
    source: 'Friberg and Sundberg 1995, JASA 98',
  },
  {
    value: 20,
    unit: 'ms',
    what: 'needed to tell which of two sounds came first',
    source: 'Hirsh 1959, JASA 31, as told by Watson 2004, Seminars in Hearing 25',
  },
  {
    value: 30,
    unit: 'ms',
    what: 'usual spread of onsets in good ensembles: 30 to 50, and not heard as uneven',
    source: 'Rasch 1979, Acustica 43',
  },
];
