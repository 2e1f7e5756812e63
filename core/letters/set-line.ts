import { greekAndCyrillic } from './greek-cyrillic.ts';
import { CAPITAL_UNITS, type Glyph, LATIN, MARK_UNITS, MARKS, MARKS_BELOW, TAIL_UNITS } from './latin.ts';

const GLYPHS: ReadonlyMap<string, Glyph> = new Map([...greekAndCyrillic(), ...LATIN]);

/** A straight piece of a stroke: x and y of both ends, px. */
export type Piece = readonly [number, number, number, number];

/** A line of text as strokes. */
export interface SetLine {
  readonly pieces: readonly Piece[];
  /** Width of the line with half a stroke at both ends, px. */
  readonly widthPx: number;
  /** From the top of marks to the bottom of tails, px; pieces lie within. */
  readonly heightPx: number;
  /** Width of the pen, px. */
  readonly strokePx: number;
  /** Signs that there are no letters for; each stands as an open box. */
  readonly unknown: readonly string[];
}

/** Share of a capital's height: the pen, the space between letters, and a word space. */
const PEN = 0.135;
const LETTER_SPACE = 2.3;
const WORD_SPACE = 3.4;
/** An arc is drawn in straight pieces of about this many degrees. */
const ARC_STEP_DEG = 15;
/** How far a mark goes up over a capital, units. */
const OVER_CAPITAL = -2.9;
/** A mark beside another, units; and the one that is part of its letter. */
const BESIDE = 2.6;
const HORN = '\u031b';
const BOX = 'M0 0L5 0L5 10L0 10L0 0';

/**
 * Sets one line of text in letters of our own. `capitalPx`: height of a capital, px. Letters of Latin, Greek and Cyrillic
 * with their marks, digits and usual signs are known; what is not stands as an open box and is named in the result. Pure.
 */
export function setLine(text: string, capitalPx: number): SetLine {
  const scale = capitalPx / CAPITAL_UNITS;
  const strokePx = Math.max(1, PEN * capitalPx);
  const pieces: Piece[] = [];
  const unknown = new Set<string>();
  const top = MARK_UNITS * scale + strokePx / 2;
  let x = strokePx / 2;
  let inLine = false;
  for (const cluster of clustersOf(text)) {
    if (/^\s/.test(cluster)) {
      x += WORD_SPACE * scale;
      continue;
    }
    if (inLine) x += LETTER_SPACE * scale;
    const { width, paths, isKnown } = glyphOf(cluster);
    if (!isKnown) unknown.add(cluster);
    for (const { path, dx, dy } of paths) {
      for (const [x0, y0, x1, y1] of piecesOf(path)) {
        pieces.push([x + (x0 + dx) * scale, top + (y0 + dy) * scale, x + (x1 + dx) * scale, top + (y1 + dy) * scale]);
      }
    }
    x += width * scale;
    inLine = true;
  }
  const heightPx = (MARK_UNITS + CAPITAL_UNITS + TAIL_UNITS) * scale + strokePx;
  return { pieces, widthPx: x + strokePx / 2, heightPx, strokePx, unknown: [...unknown] };
}

/** Letters with the marks that belong to them. */
function clustersOf(text: string): string[] {
  return text.normalize('NFD').match(/\P{M}\p{M}*/gu) ?? [];
}

interface Laid {
  readonly path: string;
  readonly dx: number;
  readonly dy: number;
}

function glyphOf(cluster: string): { width: number; paths: Laid[]; isKnown: boolean } {
  const [sign, ...marks] = [...cluster];
  const dotless = marks.some((mark) => !MARKS_BELOW.has(mark)) ? { i: 'ı', j: 'ȷ', і: 'ı', ј: 'ȷ' }[sign!] : undefined;
  const glyph = GLYPHS.get(sign!);
  if (glyph === undefined) return { width: 5, paths: [{ path: BOX, dx: 0, dy: 0 }], isKnown: false };
  const base = (dotless === undefined ? undefined : GLYPHS.get(dotless)) ?? glyph;
  const paths: Laid[] = [{ path: base.path, dx: 0, dy: 0 }];
  let isKnown = true;
  let above = 0;
  for (const mark of marks) {
    const path = MARKS.get(mark);
    if (path === undefined) {
      isKnown = false;
      continue;
    }
    const isAbove = !MARKS_BELOW.has(mark) && mark !== HORN;
    const high = isAbove && /[\p{Lu}bdfhklt]/u.test(sign!);
    // Two marks over one letter stand side by side.
    paths.push({ path, dx: base.width / 2 + (isAbove ? above++ * BESIDE : 0), dy: high ? OVER_CAPITAL : 0 });
  }
  return { width: base.width, paths, isKnown };
}

const parsed = new Map<string, readonly Piece[]>();

function piecesOf(path: string): readonly Piece[] {
  const known = parsed.get(path);
  if (known !== undefined) return known;
  const pieces: Piece[] = [];
  let at: readonly [number, number] | undefined;
  const lineTo = (x: number, y: number): void => {
    if (at !== undefined) pieces.push([at[0], at[1], x, y]);
    at = [x, y];
  };
  for (const [, command, numbers] of path.matchAll(/([MLAO])([^MLAO]*)/g)) {
    const [a = 0, b = 0, rx = 0, ry = 0, from = 0, to = 0] = numbers!.trim().split(/\s+/).map(Number);
    if (command === 'M') at = [a, b];
    else if (command === 'L') lineTo(a, b);
    else {
      if (command === 'O') at = undefined;
      const steps = Math.max(2, Math.ceil(Math.abs(to - from) / ARC_STEP_DEG));
      for (let step = 0; step <= steps; step++) {
        const angle = ((from + ((to - from) * step) / steps) * Math.PI) / 180;
        lineTo(a + rx * Math.cos(angle), b + ry * Math.sin(angle));
      }
    }
  }
  parsed.set(path, pieces);
  return pieces;
}
