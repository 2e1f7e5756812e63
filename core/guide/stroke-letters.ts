/** A letter's shape: how much of each pixel its strokes cover, 0 to 255, row after row. */
export interface LetterMask {
  readonly width: number;
  readonly height: number;
  /** Pixels to the next letter's left edge. */
  readonly advance: number;
  readonly cover: Uint8Array;
}

/** Capitals are 6 units high; y runs down. */
const HEIGHT = 6;
const PEN = 0.42;
const SPACING = 1.5;
const MARGIN = PEN;

const ROUND = '~2,0 0.8,0.4 0.1,1.6 0,3 0.1,4.4 0.8,5.6 2,6 3.2,5.6 3.9,4.4 4,3 3.9,1.6 3.2,0.4 2,0';
const BOW = '0,6 0,0;~0,0 2.4,0 3.7,0.2 4,1.6 3.7,3 2.4,3.2 0,3.2';
const OPEN = '~4,1.2 3.2,0.3 2,0 0.8,0.4 0.1,1.6 0,3 0.1,4.4 0.8,5.6 2,6 3.2,5.7 4,4.8';

/**
 * Our own alphabet of pen strokes: paths of points `x,y`, with `;` between paths; a path with `~` in front is drawn round.
 * Figures are all equally wide.
 */
const STROKES: Readonly<Record<string, string>> = {
  A: '0,6 2,0 4,6;0.7,4 3.3,4',
  B: '0,0 0,6;~0,6 2.4,6 3.8,5.8 4,4.5 3.8,3.2 2.4,2.9 0,2.9;~0,0 2.2,0 3.4,0.2 3.6,1.45 3.4,2.7 2.2,2.9',
  C: OPEN,
  D: '0,0 0,6;~0,6 1.6,6 3.2,5.8 3.9,4.4 4,3 3.9,1.6 3.2,0.2 1.6,0 0,0',
  E: '3.6,0 0,0 0,6 3.6,6;0,3 3,3',
  F: '3.6,0 0,0 0,6;0,3 3,3',
  G: `${OPEN};4,5 4,3.3 2.4,3.3`,
  H: '0,0 0,6;4,0 4,6;0,3 4,3',
  I: '0,0 0,6',
  J: '~3,0 3,4.4 2.7,5.8 1.5,6 0.3,5.7 0,4.6',
  K: '0,0 0,6;3.9,0 0,3.8;1.2,2.6 4,6',
  L: '0,0 0,6 3.5,6',
  M: '0,6 0,0 2.4,4 4.8,0 4.8,6',
  N: '0,6 0,0 4,6 4,0',
  O: ROUND,
  P: BOW,
  Q: `${ROUND};2.6,4.4 4.2,6.3`,
  R: `${BOW};2.2,3.2 4,6`,
  S: '~3.8,1.1 3.1,0.3 2,0 0.9,0.3 0.2,1.3 0.6,2.3 2,2.9 3.5,3.6 3.9,4.6 3.2,5.7 2,6 0.8,5.7 0,4.8',
  T: '0,0 4,0;2,0 2,6',
  U: '~0,0 0,4 0.3,5.8 2,6 3.7,5.8 4,4 4,0',
  V: '0,0 2,6 4,0',
  W: '0,0 1.3,6 2.6,1.2 3.9,6 5.2,0',
  X: '0,0 4,6;4,0 0,6',
  Y: '0,0 2,3 4,0;2,3 2,6',
  Z: '0,0 4,0 0,6 4,6',
  '0': '~1.8,0 0.6,0.4 0.1,1.6 0,3 0.1,4.4 0.6,5.6 1.8,6 3,5.6 3.5,4.4 3.6,3 3.5,1.6 3,0.4 1.8,0',
  '1': '0.6,1.2 2,0 2,6',
  '2': '~0.1,1.5 0.5,0.4 1.8,0 3.1,0.4 3.6,1.6 3.1,2.8 0,6;0,6 3.6,6',
  '3': '~0.1,0.9 0.9,0.2 1.8,0 3,0.4 3.4,1.5 2.9,2.5 1.6,2.9;~1.6,2.9 3,3.2 3.6,4.4 3.1,5.6 1.8,6 0.6,5.7 0,4.9',
  '4': '2.8,6 2.8,0 0,4.2 3.6,4.2',
  '5': '3.3,0 0.6,0 0.3,2.7;~0.3,2.7 1.2,2.3 2.1,2.2 3.2,2.8 3.6,4.1 3.2,5.4 2,6 0.8,5.8 0,5',
  '6': '~3.2,0.6 2.3,0 1.3,0.2 0.4,1.6 0,3.8 0.4,5.3 1.8,6 3.2,5.4 3.6,4.1 3.2,2.9 1.9,2.4 0.6,3 0.1,4.2',
  '7': '0,0 3.6,0 1.4,6',
  '8': '~1.8,2.8 0.7,2.3 0.3,1.4 0.7,0.4 1.8,0 2.9,0.4 3.3,1.4 2.9,2.3 1.8,2.8 0.5,3.4 0,4.5 0.5,5.6 1.8,6 3.1,5.6 3.6,4.5 3.1,3.4 1.8,2.8',
  '9': '~0.4,5.4 1.3,6 2.3,5.8 3.2,4.4 3.6,2.2 3.2,0.7 1.8,0 0.4,0.6 0,1.9 0.4,3.1 1.7,3.6 3,3 3.5,1.8',
  '-': '0.4,3.2 2.4,3.2',
  '.': '0,6 0,5.9',
  ':': '0,2 0,2.1;0,5 0,5.1',
  ',': '0.3,5.8 0,6.7',
  "'": '0,0 0,1.2',
  '/': '0,6.4 2.6,-0.2',
  '+': '0.2,3.2 3,3.2;1.6,1.8 1.6,4.6',
  '(': '~1.2,-0.4 0.3,1.2 0,3 0.3,4.8 1.2,6.4',
  ')': '~0,-0.4 0.9,1.2 1.2,3 0.9,4.8 0,6.4',
};
const SPACE = 2.2;
const FIGURE_WIDTH = 3.6;

const made = new Map<string, LetterMask>();

/** A letter `heightPx` high; a blank for a character the alphabet does not have. */
export function letterMask(letter: string, heightPx: number): LetterMask {
  const name = `${heightPx}${letter}`;
  const known = made.get(name);
  if (known !== undefined) return known;
  const mask = makeMask(letter, heightPx);
  made.set(name, mask);
  return mask;
}

/** A text in the letters there are: capitals, without accents. */
export function inLetters(text: string): string {
  return text
    .normalize('NFD')
    .replace(/\p{M}/gu, '')
    .toUpperCase()
    .replace(/[‐–—−]/g, '-')
    .replace(/[‘’]/g, "'")
    .replace(/[^A-Z0-9 .,:'/()+-]/g, ' ')
    .replace(/ +/g, ' ')
    .trim();
}

/** Width of a text, px, from the left edge of its first letter to the right of its last. */
export function textWidth(text: string, heightPx: number): number {
  return [...text].reduce((sum, letter) => sum + letterMask(letter, heightPx).advance, 0);
}

interface Point {
  readonly x: number;
  readonly y: number;
}

function makeMask(letter: string, heightPx: number): LetterMask {
  const scale = heightPx / HEIGHT;
  const paths = pathsOf(STROKES[letter] ?? '');
  const points = paths.flat();
  const right = Math.max(0, ...points.map((point) => point.x));
  const wide = /[0-9]/.test(letter) ? FIGURE_WIDTH : letter === ' ' ? SPACE - SPACING : right;
  const width = Math.ceil((right + 2 * MARGIN) * scale) + 1;
  const height = Math.ceil((HEIGHT + 2) * scale) + 1;
  const cover = new Uint8Array(width * height);
  for (const path of paths) {
    for (let n = 0; n + 1 < path.length; n++) drawStroke(cover, width, height, path[n]!, path[n + 1]!, scale);
  }
  return { width, height, advance: Math.round((wide + SPACING) * scale), cover };
}

function pathsOf(strokes: string): Point[][] {
  return strokes
    .split(';')
    .filter((path) => path !== '')
    .map((path) => {
      const points = path
        .replace('~', '')
        .split(' ')
        .map((pair) => pair.split(',').map(Number))
        .map(([x, y]) => ({ x: x!, y: y! }));
      return path.startsWith('~') ? rounded(rounded(points)) : points;
    });
}

/** Cuts the corners of a path (Chaikin 1974), its ends stay. */
function rounded(points: readonly Point[]): Point[] {
  const between = (a: Point, b: Point, share: number): Point => ({
    x: a.x + share * (b.x - a.x),
    y: a.y + share * (b.y - a.y),
  });
  const cut = points
    .slice(1)
    .flatMap((point, n) => [between(points[n]!, point, 0.25), between(points[n]!, point, 0.75)]);
  return [points[0]!, ...cut, points.at(-1)!];
}

/** Where the mask's row 0 lies above the letter's top, units. */
export const MASK_TOP = 1 - MARGIN;

function drawStroke(cover: Uint8Array, width: number, height: number, a: Point, b: Point, scale: number): void {
  const ax = (a.x + MARGIN) * scale;
  const ay = (a.y + MASK_TOP) * scale;
  const dx = (b.x - a.x) * scale;
  const dy = (b.y - a.y) * scale;
  const lengthSquared = dx * dx + dy * dy || 1;
  const pen = PEN * scale;
  const fromX = Math.max(0, Math.floor(Math.min(ax, ax + dx) - pen - 1));
  const toX = Math.min(width - 1, Math.ceil(Math.max(ax, ax + dx) + pen + 1));
  const fromY = Math.max(0, Math.floor(Math.min(ay, ay + dy) - pen - 1));
  const toY = Math.min(height - 1, Math.ceil(Math.max(ay, ay + dy) + pen + 1));
  for (let y = fromY; y <= toY; y++) {
    for (let x = fromX; x <= toX; x++) {
      const share = Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / lengthSquared));
      const distance = Math.hypot(x - ax - share * dx, y - ay - share * dy);
      const value = Math.round(255 * Math.min(1, Math.max(0, 0.5 + pen - distance)));
      const at = y * width + x;
      if (value > cover[at]!) cover[at] = value;
    }
  }
}
