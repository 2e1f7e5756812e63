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

/** Seconds as m:ss.s. */
export function time(seconds: number): string {
  const sign = seconds < 0 ? '−' : '';
  const tenths = Math.round(Math.abs(seconds) * 10);
  const whole = Math.floor(tenths / 10);
  return `${sign}${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}.${tenths % 10}`;
}

/** Sentences as a list; nothing for none. */
export function sentences(notes: readonly string[]): string {
  if (notes.length === 0) return '';
  return `<ul class="notes">${notes.map((note) => `<li>${safe(note)}</li>`).join('')}</ul>`;
}
