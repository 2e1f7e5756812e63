import type { PictureRate } from './picture-rate.ts';

/** Pictures a time code counts in a second: 30 for 29.97. */
export function countedRate({ over, under }: PictureRate): number {
  return Math.round(over / under);
}

/**
 * Time code of a picture, hours:minutes:seconds:pictures, each picture counted (non-drop). Source: SMPTE ST 12-1.
 * Wraps after 24 hours.
 */
export function timeCode(picture: number, rate: PictureRate): string {
  const counted = countedRate(rate);
  return written(picture, counted, ':');
}

/**
 * Drop-frame time code for 29.97 and 59.94 pictures/s: the first two (four) numbers of each minute are left out, but not
 * in every tenth, so that it keeps pace with a clock. Source: SMPTE ST 12-1. Throws RangeError for other rates.
 */
export function dropTimeCode(picture: number, rate: PictureRate): string {
  const counted = countedRate(rate);
  if (rate.under !== 1001 || counted % 30 !== 0)
    throw new RangeError(`rate is ${rate.over}/${rate.under}; allowed 29.97 and 59.94`);
  const dropped = counted / 15;
  const perMinute = counted * 60 - dropped;
  const perTen = counted * 600 - dropped * 9;
  const tens = Math.floor(picture / perTen);
  const rest = picture % perTen;
  const minutes = rest < counted * 60 ? 0 : 1 + Math.floor((rest - counted * 60) / perMinute);
  return written(picture + dropped * (9 * tens + minutes), counted, ';');
}

function written(number: number, counted: number, last: ':' | ';'): string {
  const two = (value: number): string => String(value).padStart(2, '0');
  const seconds = Math.floor(number / counted);
  const parts = [Math.floor(seconds / 3600) % 24, Math.floor(seconds / 60) % 60, seconds % 60].map(two);
  return `${parts.join(':')}${last}${two(number % counted)}`;
}
