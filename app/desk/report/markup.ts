import { clockText } from '../../../core/signal/time.ts';
/** Text made safe for HTML and SVG, in content and in quoted attributes. */
export function safe(text: string): string {
  return text
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;');
}

/** A number for an SVG attribute: at most two decimals. */
export function px(value: number): string {
  return String(Math.round(value * 100) / 100);
}

/** A level or a difference for people: one decimal, a real minus sign, and its unit; "silent" for none. */
export function level(value: number | null, unit: string, signed = false): string {
  if (value === null) return 'silent';
  const rounded = Math.abs(value) < 0.05 ? 0 : value;
  const sign = rounded < 0 ? '−' : signed && rounded > 0 ? '+' : '';
  return `${sign}${Math.abs(rounded).toFixed(1)} ${unit}`;
}

/** A clock's drift for people, with a real minus sign. */
export function ppm(driftPpm: number): string {
  const whole = Math.round(driftPpm);
  return `${whole < 0 ? '−' : ''}${Math.abs(whole)} ppm`;
}

/** A name cut in its middle to at most `letters`: names of one session mostly differ at their beginning or end. */
export function shortened(name: string, letters: number): string {
  const all = [...name];
  if (all.length <= letters) return name;
  const tail = Math.floor((letters - 1) / 2);
  return `${all.slice(0, letters - 1 - tail).join('')}…${all.slice(all.length - tail).join('')}`;
}

/** Seconds as m:ss.s. */
export function time(seconds: number): string {
  return clockText(seconds, 1);
}

/** Times at which a ruler of this length is marked, s: whole steps, 14 at most. */
export function wholeTimes(lengthSec: number): number[] {
  const step = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600].find((one) => lengthSec / one <= 14) ?? 1200;
  return Array.from({ length: Math.floor(lengthSec / step) + 1 }, (_, n) => n * step);
}

/** Sentences as a list; nothing for none. */
export function sentences(notes: readonly string[]): string {
  if (notes.length === 0) return '';
  return `<ul class="notes">${notes.map((note) => `<li>${safe(note)}</li>`).join('')}</ul>`;
}
