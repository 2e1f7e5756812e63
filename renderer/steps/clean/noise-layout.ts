import type { CleanFacts } from '../../../app/shell/contract/desk-view.ts';
import { humsAlone } from '../../../core/guide/steady-tones.ts';
import { hzWords, levelRange, logScale } from '../drawing/axes.ts';

/** A line in the noise with its name; `row` and `side` keep names apart that would lie on each other, -1 where there is no room. */
export interface NamedLine {
  readonly hz: number;
  readonly x: number;
  readonly words: string;
  readonly row: number;
  /** On which side of the line its name stands. */
  readonly side: 'left' | 'right';
  readonly kind: 'hum' | 'whistle';
}

export interface NoiseLayout {
  readonly x: (hz: number) => number;
  readonly y: (db: number) => number;
  readonly lowHz: number;
  readonly highHz: number;
  readonly lowDb: number;
  readonly topDb: number;
  readonly before: readonly (readonly [number, number])[];
  readonly after: readonly (readonly [number, number])[];
  readonly lines: readonly NamedLine[];
}

/** Inside of a picture, px. */
export interface Inside {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

/** Below this a band holds nothing that a picture needs, dB. */
const NOTHING_DB = -160;
const NAME_ROWS = 3;
const NAME_WIDTH = 90;

/** Lays out the noise of a silence, before and after; undefined where there are no two bands. */
export function layNoise(
  clean: Pick<CleanFacts, 'noise' | 'lines' | 'whistlesHz'>,
  inside: Inside,
): NoiseLayout | undefined {
  const bands = clean.noise?.spectrum ?? [];
  if (bands.length < 2) return undefined;
  const lowHz = bands[0]!.hz;
  const highHz = bands.at(-1)!.hz;
  const levels = bands.flatMap((band) => [band.beforeDb, band.afterDb]);
  const range = levelRange(levels, 20, NOTHING_DB);
  const x = logScale(lowHz, highHz, inside.left, inside.right);
  const y = (db: number): number => {
    const held = Math.max(range.low, Math.min(range.top, db));
    return inside.top + ((range.top - held) / (range.top - range.low)) * (inside.bottom - inside.top);
  };
  const shown = (hz: number): boolean => hz >= lowHz && hz <= highHz;
  const humHz = clean.noise?.humHz ?? null;
  const hums = clean.lines.length > 0 ? clean.lines.map((line) => line.hz) : humHz === null ? [] : [humHz];
  const lines = [
    ...hums.filter(shown).map((hz) => ({ hz, kind: 'hum' as const, words: humWords(hz, humHz) })),
    ...clean.whistlesHz.filter(shown).map((hz) => ({
      hz,
      kind: humsAlone(hz) ? ('hum' as const) : ('whistle' as const),
      words: `${humsAlone(hz) ? 'hum' : 'whistle'} ${hz.toFixed(0)} Hz`,
    })),
  ].sort((a, b) => a.hz - b.hz);
  return {
    x,
    y,
    lowHz,
    highHz,
    lowDb: range.low,
    topDb: range.top,
    before: bands.map((band) => [x(band.hz), y(band.beforeDb)] as const),
    after: bands.map((band) => [x(band.hz), y(band.afterDb)] as const),
    lines: inRows(
      lines.map((line) => ({ ...line, x: x(line.hz) })),
      inside,
    ),
  };
}

function humWords(hz: number, humHz: number | null): string {
  if (humHz === null || humHz <= 0) return `line ${hzWords(hz)}`;
  const order = Math.round(hz / humHz);
  return order <= 1 ? `hum ${hzWords(hz)}` : `× ${order}`;
}

function inRows(lines: readonly Omit<NamedLine, 'row' | 'side'>[], { left, right }: Inside): NamedLine[] {
  const rows = Array.from({ length: NAME_ROWS }, (): [from: number, to: number][] => []);
  return lines.map((line) => {
    const width = line.words.startsWith('×') ? 22 : NAME_WIDTH;
    for (const side of ['right', 'left'] as const) {
      const [from, to] = side === 'right' ? [line.x, line.x + width] : [line.x - width, line.x];
      if (from < left || to > right) continue;
      const row = rows.findIndex((names) => names.every(([begin, end]) => to <= begin || from >= end));
      if (row < 0) continue;
      rows[row]!.push([from, to]);
      return { ...line, row, side };
    }
    return { ...line, row: -1, side: 'right' };
  });
}
