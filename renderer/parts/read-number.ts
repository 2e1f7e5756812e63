/** A number as people type it: comma or point, true minus or hyphen, unit behind; held inside a range. Null for no number. */
export function readNumber(text: string, min: number, max: number): number | null {
  const plain = text
    .trim()
    .replace(/[\u2212\u2013]/g, '-')
    .replace(',', '.');
  const match = /^[-+]?\d*\.?\d+/.exec(plain);
  if (match === null) return null;
  return Math.max(min, Math.min(max, Number(match[0])));
}
