/** A figure below which a difference is not heard or not minded, with where it comes from. */
export interface Threshold {
  readonly value: number;
  readonly unit: 'cents' | 'ms';
  readonly what: string;
  readonly source: string;
}

/** From here on a note is said to be out of tune, cents: solo players vary by 10 to 20 against any fixed tuning. */
export const WARN_CENTS = 15;

/** Named beside every figure of intonation. */
export const pitchThresholds: readonly Threshold[] = [
  {
    value: 6,
    unit: 'cents',
    what: 'the smallest difference trained listeners hear in long notes of middle pitch',
    source: 'psychoacoustic textbooks, from memory (about 5 to 6 cents)',
  },
  {
    value: WARN_CENTS,
    unit: 'cents',
    what: 'the spread of a good choir in unison; Partsong speaks of a note from here on',
    source: 'measured choirs, from memory (10 to 15 cents)',
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
    value: 20,
    unit: 'ms',
    what: 'needed to tell which of two sounds came first',
    source: 'Hirsh 1959, from memory',
  },
  {
    value: 30,
    unit: 'ms',
    what: 'usual spread of onsets in good ensembles: 30 to 50, and not heard as uneven',
    source: 'Rasch 1979, Acustica 43',
  },
];
