const cents = (ratio: number): number => 1200 * Math.log2(ratio);

/** Intervals within the octave by half tones: name, and the just sizes that count as pure. */
const INTERVALS: readonly { readonly name: string; readonly pure: readonly number[] }[] = [
  { name: 'unison', pure: [0] },
  { name: 'minor second', pure: [cents(16 / 15)] },
  { name: 'major second', pure: [cents(10 / 9), cents(9 / 8)] },
  { name: 'minor third', pure: [cents(6 / 5)] },
  { name: 'major third', pure: [cents(5 / 4)] },
  { name: 'fourth', pure: [cents(4 / 3)] },
  { name: 'tritone', pure: [cents(45 / 32)] },
  { name: 'fifth', pure: [cents(3 / 2)] },
  { name: 'minor sixth', pure: [cents(8 / 5)] },
  { name: 'major sixth', pure: [cents(5 / 3)] },
  { name: 'minor seventh', pure: [cents(7 / 4), cents(16 / 9), cents(9 / 5)] },
  { name: 'major seventh', pure: [cents(15 / 8)] },
];

/** An interval as it sounds beside its equal and its nearest pure size, cents. */
export interface IntervalSize {
  readonly name: string;
  readonly soundingCents: number;
  readonly equalCents: number;
  readonly justCents: number;
  /** Distance beyond both: 0 between the equal and the pure size, above 0 too wide, below 0 too narrow. */
  readonly offCents: number;
}

/**
 * Sizes of an interval of whole half tones (upper key less lower key, 0 and more) that sounds `soundingCents` wide. Anything
 * between the equal and a pure size is in tune: a pure third is 13.7 cents under the equal one and no fault.
 * Sources: five-limit ratios (Helmholtz, On the Sensations of Tone) and 7/4.
 */
export function intervalSize(halfTones: number, soundingCents: number): IntervalSize {
  const octaves = Math.floor(halfTones / 12);
  const { name, pure } = INTERVALS[halfTones - 12 * octaves]!;
  const equalCents = 100 * halfTones;
  const sizes = pure.map((one) => one + 1200 * octaves);
  const justCents = sizes.reduce((best, one) =>
    Math.abs(one - soundingCents) < Math.abs(best - soundingCents) ? one : best,
  );
  const low = Math.min(equalCents, ...sizes);
  const high = Math.max(equalCents, ...sizes);
  const offCents = soundingCents > high ? soundingCents - high : soundingCents < low ? soundingCents - low : 0;
  const wholeName = halfTones > 0 && halfTones % 12 === 0 ? 'octave' : name;
  return { name: wholeName, soundingCents, equalCents, justCents, offCents };
}
