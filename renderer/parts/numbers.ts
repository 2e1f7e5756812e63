import { clockText } from '../../core/signal/time.ts';
/** A number for people: a true minus sign, fixed digits; a dash where there is none. */
export function figure(value: number | null | undefined, digits = 1): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  return value.toFixed(digits).replace('-', '−');
}

/** Like `figure`, with a plus sign where it is a change. */
export function change(value: number, digits = 1): string {
  return value > 0 ? `+${figure(value, digits)}` : figure(value, digits);
}

/** A time as "1:23.4", minutes and seconds; negative ones with a true minus. */
export function clock(sec: number, digits = 1): string {
  return clockText(sec, digits);
}

/** A length of waiting: "about 2 min", "a few seconds". */
export function waiting(sec: number | null): string {
  if (sec === null) return '';
  if (sec < 5) return 'a few seconds left';
  if (sec < 90) return `about ${Math.ceil(sec / 5) * 5} s left`;
  return `about ${Math.round(sec / 60)} min left`;
}
