/** Tunings of the twelve keys that the guide can play. */
export const temperaments = ['equal', 'pythagorean', 'meanTone', 'just'] as const;
export type Temperament = (typeof temperaments)[number];

const CENTS_PER_OCTAVE = 1200;
const CENTS = (ratio: number): number => CENTS_PER_OCTAVE * Math.log2(ratio);

const FIFTH = CENTS(3 / 2);
/** A fifth a quarter of the syntonic comma (81/80) narrow: four of them make a pure third 5/4. */
const MEAN_TONE_FIFTH = CENTS(5) / 4;

/**
 * Just intonation above the tonic: 1/1, 16/15, 9/8, 6/5, 5/4, 4/3, 45/32, 3/2, 8/5, 5/3, 9/5, 15/8.
 * Source: the five-limit scale in Helmholtz, On the Sensations of Tone (Ellis), ch. XIV to XVI; figures from their ratios.
 */
const JUST = [1, 16 / 15, 9 / 8, 6 / 5, 5 / 4, 4 / 3, 45 / 32, 3 / 2, 8 / 5, 5 / 3, 9 / 5, 15 / 8].map(CENTS);

/** How many fifths up (or down) from the tonic each of the twelve notes is taken: E flat to G sharp around a tonic of C. */
const FIFTHS_UP = [0, 7, 2, -3, 4, -1, 6, 1, 8, 3, -2, 5];

/**
 * Cents of the twelve notes above the tonic, 0 to 11 half tones up.
 * Sources: Pythagorean, pure fifths 3/2; quarter-comma mean-tone (Aaron 1523), fifths of 5^(1/4); figures follow from these.
 */
export function scaleCents(temperament: Temperament): readonly number[] {
  switch (temperament) {
    case 'equal':
      return FIFTHS_UP.map((_, halfTones) => 100 * halfTones);
    case 'pythagorean':
      return FIFTHS_UP.map((fifths) => withinOctave(fifths * FIFTH));
    case 'meanTone':
      return FIFTHS_UP.map((fifths) => withinOctave(fifths * MEAN_TONE_FIFTH));
    case 'just':
      return JUST;
  }
}

/**
 * Frequency of a key in a temperament over a tonic. A4 (key 69) sounds at `referenceHz` in every temperament and on every
 * tonic, so that all tune to one A.
 * key: MIDI key number, fractions raise by equal parts; tonic: 0 (C) to 11 (B); out Hz.
 */
export function keyHz(key: number, temperament: Temperament, tonic: number, referenceHz: number): number {
  return referenceHz * 2 ** ((centsOf(key, temperament, tonic) - centsOf(69, temperament, tonic)) / CENTS_PER_OCTAVE);
}

/** Cents of a key above key 0 with its tonic's octave. */
function centsOf(key: number, temperament: Temperament, tonic: number): number {
  const whole = Math.floor(key);
  const above = whole - tonic;
  const octave = Math.floor(above / 12);
  return octave * CENTS_PER_OCTAVE + scaleCents(temperament)[above - 12 * octave]! + 100 * (key - whole);
}

function withinOctave(cents: number): number {
  return ((cents % CENTS_PER_OCTAVE) + CENTS_PER_OCTAVE) % CENTS_PER_OCTAVE;
}
