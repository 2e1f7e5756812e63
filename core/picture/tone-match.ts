import { assertInRange } from '../signal/fault.ts';

/** Means of a clip's picture in BT.709 of 8 bits: luma 16 to 235, colour differences around 128. */
export interface ToneMeasure {
  readonly luma: number;
  readonly blueDifference: number;
  readonly redDifference: number;
}

/** What brings a clip's tone near that of the others. */
export interface ToneChange {
  /** Of luma above black and of colour. */
  readonly gain: number;
  /** Added to the colour differences. */
  readonly blueShift: number;
  readonly redShift: number;
}

/** As photographers count: half a stop in the signal, which is about a stop of light, changes no mood. */
const MOST_GAIN = 2 ** 0.5;
/** A warm lamp beside daylight shifts means by some 10 of 8 bits; more is what is filmed, not the light. */
const MOST_SHIFT = 10;
/** A part of the difference is what is filmed: a dark coat, a green wall. */
const SHARE = 0.7;
/** Clips darker than this hold nothing to match, above black. */
const DARKEST = 6;

/**
 * Changes that bring clips nearer to one another: exposure to their median in the logarithm, white balance to the median
 * of the mean colour (grey world: Buchsbaum 1980), each by 70 % of the difference and within limits. A clip that is
 * almost black stays as it is. null for a voice without a measure.
 */
export function matchTones(measures: readonly (ToneMeasure | null)[]): (ToneChange | null)[] {
  const usable = measures.filter((one) => one !== null && one.luma - 16 > DARKEST) as ToneMeasure[];
  if (usable.length < 2) return measures.map(() => null);
  const light = median(usable.map(({ luma }) => Math.log(luma - 16)));
  const blue = median(usable.map(({ blueDifference }) => blueDifference));
  const red = median(usable.map(({ redDifference }) => redDifference));
  return measures.map((one) => {
    if (one === null || !usable.includes(one)) return null;
    const gain = Math.exp(SHARE * (light - Math.log(one.luma - 16)));
    return {
      gain: Math.min(MOST_GAIN, Math.max(1 / MOST_GAIN, gain)),
      blueShift: within(SHARE * (blue - one.blueDifference)),
      redShift: within(SHARE * (red - one.redDifference)),
    };
  });
}

function within(shift: number): number {
  return Math.min(MOST_SHIFT, Math.max(-MOST_SHIFT, shift));
}

function median(values: readonly number[]): number {
  const sorted = values.toSorted((one, other) => one - other);
  const middle = sorted.length / 2;
  return (sorted[Math.floor(middle)]! + sorted[Math.ceil(middle) - 1]!) / 2;
}

/** FFmpeg's filter for a change, on pictures in BT.709 of limited range. */
export function toneFilter({ gain, blueShift, redShift }: ToneChange): string {
  assertInRange('gain', gain, 0.25, 4);
  const colour = (shift: number): string => `'clip(128+(val-128)*${gain.toFixed(4)}+${shift.toFixed(3)},16,240)'`;
  return `lutyuv=y='clip(16+(val-16)*${gain.toFixed(4)},16,235)':u=${colour(blueShift)}:v=${colour(redShift)}`;
}

/** BT.709: what a colour difference adds to red, green and blue, for its full swing of 224 of 8 bits. */
const RED_OF_RED = 1.5748;
const GREEN_OF_BLUE = -0.1873;
const GREEN_OF_RED = -0.4681;
const BLUE_OF_BLUE = 1.8556;
const COLOUR_SWING = 224;

/**
 * The same change for red, green and blue from 0 to 1 as they are shown: what `toneFilter` does to luma and colour
 * differences, but for what it clips. Each is multiplied by `gain`, then moved by its own shift.
 */
export function toneOnScreen({ gain, blueShift, redShift }: ToneChange): {
  readonly gain: number;
  readonly shifts: readonly [number, number, number];
} {
  const [blue, red] = [blueShift / COLOUR_SWING, redShift / COLOUR_SWING];
  return { gain, shifts: [RED_OF_RED * red, GREEN_OF_BLUE * blue + GREEN_OF_RED * red, BLUE_OF_BLUE * blue] };
}

/** A change in words: "0.4 stops lighter, warmer". */
export function toneInWords({ gain, blueShift, redShift }: ToneChange): string {
  const stops = 2 * Math.log2(gain);
  const light = Math.abs(stops) < 0.1 ? '' : `${Math.abs(stops).toFixed(1)} stops ${stops > 0 ? 'lighter' : 'darker'}`;
  const warmth = redShift - blueShift;
  const tint = Math.abs(warmth) < 1 ? '' : warmth > 0 ? 'warmer' : 'cooler';
  return [light, tint].filter((part) => part !== '').join(', ') || 'as it was';
}
