import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { type Band, type BandSpectrum, crossSpectrum } from './cross-spectrum.ts';
import { RATE_HZ, SlowReader } from './slow-reader.ts';

/** Lags looked at on either side of the assumed placement, s. */
export const BLEED_REACH_SEC = 0.048;
const REACH = BLEED_REACH_SEC * RATE_HZ;
const LOW_HZ = 800;
const HIGH_HZ = 3700;
/** Lags are computed at twice the rate, so that a peak between two samples keeps its height. */
export const LAG_HZ = 2 * RATE_HZ;
/** Lags of a row. */
const ROW = 4 * REACH;

/** How long a stretch of the guide is that is looked for at once. */
export interface RowShape {
  readonly segmentSec: number;
  /** Transform length: holds the segment and the lags on both sides. */
  readonly size: number;
}

/** For finding bleed at all, and for following it. */
export const SEGMENT: RowShape = { segmentSec: 0.416, size: 4096 };
/** For finding the moment at which it jumps. */
export const CELL: RowShape = { segmentSec: 0.104, size: 2048 };

/** The spectrum of a stretch of the guide between LOW_HZ and HIGH_HZ. */
export interface GuideSegment extends BandSpectrum {
  readonly atSec: number;
}

function bandOf({ size }: RowShape): Band {
  return { low: Math.ceil((LOW_HZ / RATE_HZ) * size), high: Math.floor((HIGH_HZ / RATE_HZ) * size) };
}

/** Transforms stretches of a guide that begin at `timesSec`. Memory: 12 kB each for segments. */
export function guideSegments(guide: Sound, timesSec: readonly number[], shape: RowShape): GuideSegment[] {
  const reader = new SlowReader(guide, shape.size);
  const fft = new RealFft(shape.size);
  const work = new Float64Array(shape.size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const { low, high } = bandOf(shape);
  return timesSec.map((atSec) => {
    reader.read(atSec, 1, Math.round(shape.segmentSec * RATE_HZ), work);
    fft.forward(work, re, im);
    return {
      atSec,
      re: Float32Array.from(re.subarray(low, high + 1)),
      im: Float32Array.from(im.subarray(low, high + 1)),
    };
  });
}

/**
 * A take correlated with stretches of the guide: for each a row of lags from -BLEED_REACH_SEC on, LAG_HZ a second, about the
 * take's own time that takeSecOf gives for its beginning; the take is read at `speed`. Each spectral line is weighed by one
 * over the take's own power there (the optimum weight for a weak signal in coloured noise; Knapp and Carter 1976, IEEE
 * Trans. ASSP 24(4)), so that the player's tones and the hum count little.
 */
export function correlateRows(
  segments: readonly GuideSegment[],
  take: Sound,
  takeSecOf: (sessionSec: number) => number,
  speed: number,
  shape: RowShape,
): Float64Array[] {
  const { size, segmentSec } = shape;
  const reader = new SlowReader(take, size);
  const fft = new RealFft(size);
  const work = new Float64Array(size);
  const span = Math.round(segmentSec * RATE_HZ) + 2 * REACH;
  const fades = Float64Array.from({ length: REACH }, (_, n) => Math.sin((0.5 * Math.PI * (n + 0.5)) / REACH) ** 2);
  const fine = new RealFft(2 * size);
  const lags = new Float64Array(2 * size);
  const rows = new Float64Array(segments.length * ROW);
  const cross = crossSpectrum(fft.bins, bandOf(shape));
  return segments.map((segment, n) => {
    reader.read(takeSecOf(segment.atSec) - BLEED_REACH_SEC, speed, span, work);
    fadeEnds(work, span, fades);
    const { re, im } = cross.spectrum();
    fft.forward(work, re, im);
    const product = cross.with(segment);
    fine.inverse(product.re, product.im, lags);
    const row = rows.subarray(n * ROW, (n + 1) * ROW);
    row.set(lags.subarray(0, ROW));
    return row;
  });
}

function fadeEnds(work: Float64Array, span: number, fades: Float64Array): void {
  for (let n = 0; n < fades.length; n++) {
    const gain = fades[n]!;
    work[n]! *= gain;
    work[span - 1 - n]! *= gain;
  }
}
