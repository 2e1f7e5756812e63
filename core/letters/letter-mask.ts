import { CAPITAL_UNITS, MARK_UNITS } from './latin.ts';
import { type SetLine, setLine } from './set-line.ts';

/** A letter's shape: how much of each px its strokes cover, 0 to 255, row after row. */
export interface LetterMask {
  readonly width: number;
  readonly height: number;
  /** px to the next letter's left edge. */
  readonly advance: number;
  readonly cover: Uint8Array;
}

/** Between letters, of a capital's height; figures are all as wide, and a space. */
const SPACING = 0.21;
const FIGURE_WIDTH = 0.66;
const SPACE = 0.2;

const made = new Map<string, LetterMask>();

/** A letter whose capitals are `heightPx` high; a blank for a sign the alphabet does not have. */
export function letterMask(letter: string, heightPx: number): LetterMask {
  const name = `${heightPx}${letter}`;
  const known = made.get(name);
  if (known !== undefined) return known;
  const line = setLine(letter, heightPx);
  const isFigure = /^[0-9]$/.test(letter);
  const wide = isFigure ? FIGURE_WIDTH * heightPx + line.strokePx : line.widthPx;
  const isBlank = line.pieces.length === 0 || line.unknown.length > 0;
  const drawn = isBlank ? 0 : wide - line.strokePx;
  const width = Math.ceil(wide) + 1;
  const height = Math.ceil(line.heightPx) + 1;
  const mask: LetterMask = {
    width,
    height,
    advance: Math.round((isBlank ? SPACE : SPACING) * heightPx + drawn),
    cover: isBlank ? new Uint8Array(width * height) : coverOf(line, width, height, (wide - line.widthPx) / 2),
  };
  made.set(name, mask);
  return mask;
}

/** How far a mask reaches above the top of its capitals, px. */
export function aboveCapitalsPx(heightPx: number): number {
  return (MARK_UNITS / CAPITAL_UNITS) * heightPx + setLine('I', heightPx).strokePx / 2;
}

/** A text in the letters there are, as capitals with their marks; what there is no letter for is a space. */
export function inLetters(text: string): string {
  return [...text.toUpperCase().normalize('NFC')]
    .map((sign) => (setLine(sign, CAPITAL_UNITS).unknown.length > 0 ? ' ' : sign))
    .join('')
    .replace(/\s+/g, ' ')
    .trim();
}

/** Width of a text, px, from the left edge of its first letter to where one after its last would begin. */
export function textWidth(text: string, heightPx: number): number {
  return [...text].reduce((sum, letter) => sum + letterMask(letter, heightPx).advance, 0);
}

function coverOf({ pieces, strokePx }: SetLine, width: number, height: number, shiftPx: number): Uint8Array {
  const cover = new Uint8Array(width * height);
  const half = strokePx / 2;
  for (const [ax, ay, bx, by] of pieces) {
    const [x0, y0, dx, dy] = [ax + shiftPx, ay, bx - ax, by - ay];
    const squared = dx * dx + dy * dy || 1;
    const fromX = Math.max(0, Math.floor(Math.min(x0, x0 + dx) - half - 1));
    const toX = Math.min(width - 1, Math.ceil(Math.max(x0, x0 + dx) + half + 1));
    const fromY = Math.max(0, Math.floor(Math.min(y0, y0 + dy) - half - 1));
    const toY = Math.min(height - 1, Math.ceil(Math.max(y0, y0 + dy) + half + 1));
    for (let y = fromY; y <= toY; y++) {
      for (let x = fromX; x <= toX; x++) {
        const share = Math.min(1, Math.max(0, ((x + 0.5 - x0) * dx + (y + 0.5 - y0) * dy) / squared));
        const distance = Math.hypot(x + 0.5 - x0 - share * dx, y + 0.5 - y0 - share * dy);
        const value = Math.round(255 * Math.min(1, Math.max(0, 0.5 + half - distance)));
        const at = y * width + x;
        if (value > cover[at]!) cover[at] = value;
      }
    }
  }
  return cover;
}
