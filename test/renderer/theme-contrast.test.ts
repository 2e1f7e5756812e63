import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';

const css = readFileSync(join(import.meta.dirname, '../../renderer/theme/theme.css'), 'utf8');

/** Tokens of a theme; night overrides what day says. */
function tokensOf(theme: 'day' | 'night'): Record<string, string> {
  const [day, night] = css.split(':root[data-theme="night"]');
  const read = (text: string) =>
    Object.fromEntries(Array.from(text.matchAll(/--([\w-]+):\s*(#[0-9a-f]{6})/g), (one) => [one[1]!, one[2]!]));
  return theme === 'day' ? read(day!) : { ...read(day!), ...read(night!) };
}

/** Relative luminance, WCAG 2.2, of "#rrggbb". */
function luminance(hex: string): number {
  const [r, g, b] = [1, 3, 5].map((at) => {
    const share = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r! + 0.7152 * g! + 0.0722 * b!;
}

function contrast(one: string, other: string): number {
  const [high, low] = [luminance(one), luminance(other)].sort((a, b) => b - a);
  return (high! + 0.05) / (low! + 0.05);
}

/** Text colours, and the grounds they stand on. */
const texts: readonly (readonly [string, readonly string[]])[] = [
  ['ink', ['paper', 'sheet', 'quiet', 'mark-sheet']],
  ['faint', ['paper', 'sheet']],
  ['mark', ['paper', 'sheet', 'mark-sheet']],
  ['good', ['paper', 'sheet']],
  ['wrong', ['paper', 'sheet', 'mark-sheet']],
  ['on-mark', ['mark']],
  ['paper', ['ink']],
];

/** Lines and signs that carry meaning: borders of controls, focus, state signs. */
const lines: readonly (readonly [string, readonly string[]])[] = [
  ['edge', ['paper', 'sheet']],
  ['focus', ['paper', 'sheet', 'quiet', 'mark-sheet']],
  ['mark', ['paper', 'sheet', 'mark-sheet', 'quiet']],
  ['good', ['paper', 'sheet', 'quiet']],
];

describe.each(['day', 'night'] as const)('the theme of %s', (theme) => {
  const tokens = tokensOf(theme);

  it.each(texts)('--%s reads at 4.5 : 1 or more on every ground it stands on (WCAG 2.2, 1.4.3)', (text, grounds) => {
    for (const ground of grounds) {
      expect(contrast(tokens[text]!, tokens[ground]!), `${text} on ${ground}`).toBeGreaterThanOrEqual(4.5);
    }
  });

  it.each(lines)('--%s is seen at 3 : 1 or more on every ground it stands on (WCAG 2.2, 1.4.11)', (line, grounds) => {
    for (const ground of grounds) {
      expect(contrast(tokens[line]!, tokens[ground]!), `${line} on ${ground}`).toBeGreaterThanOrEqual(3);
    }
  });
});

it('computes 21 : 1 for black on white and 4.48 : 1 for #777777, as WCAG 2.2 does', () => {
  expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 5);
  expect(contrast('#777777', '#ffffff')).toBeCloseTo(4.48, 2);
});
