import { PartsongError } from '../signal/fault.ts';

/** Pictures per second as a fraction, so that 30000/1001 stays exact. */
export interface PictureRate {
  readonly over: number;
  readonly under: number;
}

/** The rates a canvas may have, lowest first. SMPTE ST 12-1 and common practice. */
export const PICTURE_RATES: readonly PictureRate[] = [
  { over: 24000, under: 1001 },
  { over: 24, under: 1 },
  { over: 25, under: 1 },
  { over: 30000, under: 1001 },
  { over: 30, under: 1 },
  { over: 48, under: 1 },
  { over: 50, under: 1 },
  { over: 60000, under: 1001 },
  { over: 60, under: 1 },
];

/** Those of them that every player and upload takes without a thought; what is chosen by itself is one of these. */
export const USUAL_RATES: readonly PictureRate[] = PICTURE_RATES.filter((rate) => perSecond(rate) !== 48);

/** Pictures per second as a number. */
export function perSecond({ over, under }: PictureRate): number {
  return over / under;
}

/** FFmpeg's way to write a rate. */
export function rateText({ over, under }: PictureRate): string {
  return under === 1 ? String(over) : `${over}/${under}`;
}

/** "29.97 pictures/s". */
export function rateInWords(rate: PictureRate): string {
  return `${Number(perSecond(rate).toFixed(3))} pictures/s`;
}

/** Rates written rounded, in banners and by people, are this near to the true one, pictures/s. */
const WRITTEN_NEAR = 0.011;

/**
 * The rate that a written number means: 29.97 is 30000/1001, `30000/1001` itself. Throws PartsongError 'bad-option' for
 * what is none of `PICTURE_RATES`.
 */
export function parsePictureRate(text: string): PictureRate {
  const parts = /^\s*(\d+(?:\.\d+)?)(?:\/(\d+))?\s*$/.exec(text);
  const wanted = parts === null ? Number.NaN : Number(parts[1]) / Number(parts[2] ?? 1);
  const near = nearestRate(wanted);
  if (near !== undefined && Math.abs(perSecond(near) - wanted) <= WRITTEN_NEAR) return near;
  throw new PartsongError(
    'bad-option',
    `"${text}" is no picture rate that can be rendered.`,
    `Choose one of ${PICTURE_RATES.map((rate) => Number(perSecond(rate).toFixed(3))).join(', ')} pictures/s.`,
  );
}

function nearestRate(wanted: number): PictureRate | undefined {
  const off = (rate: PictureRate): number => Math.abs(perSecond(rate) - wanted);
  return PICTURE_RATES.toSorted((one, other) => off(one) - off(other))[0];
}

/**
 * The rate of a canvas for clips of the given mean rates (pictures/s, 0 where unknown): the lowest that shows every
 * picture of the fastest clip, 60 at most; 30 where no clip tells. A clip of uneven rate has a mean below its own rate,
 * which is why the next rate above is taken when none is near.
 */
export function rateForClips(clipRates: readonly number[]): PictureRate {
  const fastest = Math.max(0, ...clipRates);
  if (fastest === 0) return { over: 30, under: 1 };
  const near = nearestRate(fastest);
  if (near !== undefined && Math.abs(perSecond(near) - fastest) <= WRITTEN_NEAR) return near;
  return PICTURE_RATES.find((rate) => perSecond(rate) >= fastest) ?? { over: 60, under: 1 };
}

/** Pictures that a stretch of time holds, counted from its beginning; at least one. */
export function picturesWithin(lengthSec: number, rate: PictureRate): number {
  return Math.max(1, Math.floor(lengthSec * perSecond(rate) + 1e-6));
}

/** When a picture is shown, s from the beginning. */
export function pictureSec(picture: number, { over, under }: PictureRate): number {
  return (picture * under) / over;
}
