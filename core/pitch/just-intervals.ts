import { HEARD_CENTS, WARN_CENTS } from './audibility.ts';

const cents = (ratio: number): number => 1200 * Math.log2(ratio);

type Ratio = readonly [high: number, low: number];

interface Interval {
  readonly name: string;
  /** Just sizes of primes up to five; anything between them and the equal size is in tune. */
  readonly pure: readonly Ratio[];
  /** Sizes with a seven, as a chord of the natural seventh has them: in tune by themselves, but not what lies before them. */
  readonly natural: readonly Ratio[];
}

/** Intervals within the octave by half tones. */
const INTERVALS: readonly Interval[] = [
  { name: 'unison', pure: [[1, 1]], natural: [] },
  { name: 'minor second', pure: [[16, 15]], natural: [] },
  {
    name: 'major second',
    pure: [
      [10, 9],
      [9, 8],
    ],
    natural: [[8, 7]],
  },
  { name: 'minor third', pure: [[6, 5]], natural: [[7, 6]] },
  { name: 'major third', pure: [[5, 4]], natural: [] },
  { name: 'fourth', pure: [[4, 3]], natural: [] },
  {
    name: 'tritone',
    pure: [
      [45, 32],
      [64, 45],
    ],
    natural: [
      [7, 5],
      [10, 7],
    ],
  },
  { name: 'fifth', pure: [[3, 2]], natural: [] },
  { name: 'minor sixth', pure: [[8, 5]], natural: [] },
  { name: 'major sixth', pure: [[5, 3]], natural: [[12, 7]] },
  {
    name: 'minor seventh',
    pure: [
      [16, 9],
      [9, 5],
    ],
    natural: [[7, 4]],
  },
  { name: 'major seventh', pure: [[15, 8]], natural: [] },
];

/** Two voices of 7/4 alone are taken for a natural seventh as well: nothing else tells what they are meant for. */
const ALONE_NATURAL = 10;

/** An interval as it sounds beside its equal and its nearest pure size, cents. */
export interface IntervalSize {
  readonly name: string;
  readonly soundingCents: number;
  readonly equalCents: number;
  readonly justCents: number;
  /** Distance beyond both: 0 between the equal and the pure size, above 0 too wide, below 0 too narrow. */
  readonly offCents: number;
  /** The pure size as a ratio of small numbers: this partial of the low note meets that one of the high note. */
  readonly partials: { readonly ofLow: number; readonly ofHigh: number };
}

/** What else is known of an interval. */
export interface IntervalContext {
  /** Its size in the tuning that notes are held against, cents; absent: the equal one. */
  readonly tunedCents?: number;
  /** Whether it lies in a chord with a natural (dominant) seventh. */
  readonly isNatural?: boolean;
}

/**
 * Sizes of an interval of whole half tones (upper key less lower key, 0 and more) that sounds `soundingCents` wide. Anything
 * between the equal size (or that of the tuning in use) and a pure one is in tune: a pure third is 13.7 cents under the equal one and no
 * fault. Sizes with a seven count by themselves, in chords of the seventh alone: a third 30 cents too narrow is no minor third of 7/6.
 * Sources: five-limit ratios, and those of the natural seventh (Helmholtz and Ellis 1885, On the Sensations of Tone, App. XX; from memory).
 */
export function intervalSize(halfTones: number, soundingCents: number, context: IntervalContext = {}): IntervalSize {
  const octaves = Math.floor(halfTones / 12);
  const { name, pure, natural } = INTERVALS[halfTones - 12 * octaves]!;
  const equalCents = 100 * halfTones;
  const tunedCents = context.tunedCents ?? equalCents;
  const sizeOf = ([high, low]: Ratio): number => cents(high / low) + 1200 * octaves;
  const sizes = pure.map(sizeOf);
  const low = Math.min(tunedCents, ...sizes);
  const high = Math.max(tunedCents, ...sizes);
  let offCents = soundingCents > high ? soundingCents - high : soundingCents < low ? soundingCents - low : 0;
  const isNatural = context.isNatural === true || halfTones - 12 * octaves === ALONE_NATURAL;
  const ratios = isNatural ? [...pure, ...natural] : pure;
  for (const ratio of isNatural ? natural : []) {
    const off = soundingCents - sizeOf(ratio);
    if (Math.abs(off) < Math.abs(offCents)) offCents = off;
  }
  const nearest = ratios.reduce((best, one) =>
    Math.abs(sizeOf(one) - soundingCents) < Math.abs(sizeOf(best) - soundingCents) ? one : best,
  );
  return {
    name: halfTones > 0 && halfTones % 12 === 0 ? 'octave' : name,
    soundingCents,
    equalCents,
    justCents: sizeOf(nearest),
    offCents,
    partials: partialsOf(nearest, octaves),
  };
}

function partialsOf([high, low]: Ratio, octaves: number): IntervalSize['partials'] {
  let [ofLow, ofHigh] = [high, low];
  for (let n = 0; n < octaves; n++) {
    if (ofHigh % 2 === 0) ofHigh /= 2;
    else ofLow *= 2;
  }
  return { ofLow, ofHigh };
}

/** Up to this partial there is enough of a voice to beat with another. */
const HIGHEST_BEATING = 8;
/** Up to this partial the ear is at its strictest (unisons, octaves, fifths, fourths), up to the next one less so (thirds, sixths). */
const STRICT_PARTIAL = 4;
const LENIENT_CENTS = 10;

/**
 * How far off an interval has to be to be heard, cents, while it sounds for durationSec over a low note of lowHz. Mistuning is heard mainly by the
 * beats of the lowest partials that should meet (Vos 1982, Perception and Psychophysics 32: fifths and major thirds of 0.25 to 1 s), so half
 * a beat has to fit into the time; which way it is off is told from some 20 cents on (there), so that from 15 cents on no beat is asked
 * for. Judgement gets coarser from unison, octave, fifth and fourth to thirds, sixths and the dissonant ones (Hall and Hess 1984, Music
 * Perception 2): from 6, 10 and 15 cents on, which is our own choice in this order.
 */
export function heardFromCents({ partials }: IntervalSize, lowHz: number, durationSec: number): number {
  const { ofLow } = partials;
  if (ofLow > HIGHEST_BEATING) return WARN_CENTS;
  const halfBeat = 1200 * Math.log2(1 + 0.5 / (durationSec * ofLow * lowHz));
  const strict = ofLow <= STRICT_PARTIAL ? HEARD_CENTS : LENIENT_CENTS;
  return Math.max(strict, Math.min(WARN_CENTS, halfBeat));
}

/** Beats in a second of the lowest partials that should meet; null where they lie too high to be heard. */
export function beatsPerSec({ partials, soundingCents }: IntervalSize, lowHz: number): number | null {
  if (partials.ofLow > HIGHEST_BEATING) return null;
  return Math.abs(partials.ofHigh * lowHz * 2 ** (soundingCents / 1200) - partials.ofLow * lowHz);
}
