import { describe, expect, it } from 'vitest';
import { contrast, legibleOn } from '../../../renderer/lanes/palette.ts';
import { mixed, PixelSheet, wordOf } from '../../../renderer/lanes/pixel-sheet.ts';
import { makeColumns } from '../../../renderer/lanes/wave-columns.ts';

const white = wordOf(255, 255, 255);
const black = wordOf(0, 0, 0);

describe('the sheet lanes are drawn on', () => {
  it('mixes colours to 1 in 255', () => {
    expect(mixed(white, black, 0)).toBe(white);
    expect(mixed(white, black, 1)).toBe(black);
    expect(mixed(white, black, 0.5) & 0xff).toBeCloseTo(127.5, -0.3);
  });

  it('draws a column from its highest to its lowest value and blends its ends', () => {
    const sheet = new PixelSheet(3, 100);
    sheet.fill(0, 0, 3, 100, white);
    const columns = makeColumns(3);
    columns.known[1] = 1;
    columns.high[1] = 16384;
    columns.low[1] = -16384;
    sheet.wave(columns, 0, 3, 50, 40.5, 45, 1, black);
    const column = Array.from({ length: 100 }, (_, y) => sheet.pixels[y * 3 + 1]! & 0xff);
    expect(column.filter((value) => value === 0)).toHaveLength(40);
    // 20.25 pixels on each side: a quarter of a pixel is left for each end.
    expect(column[29]! / 255).toBeCloseTo(0.75, 1);
    expect(sheet.pixels[50 * 3]).toBe(white);
  });

  it('leaves out what the next wave covers, with the same picture in the end', () => {
    const columns = makeColumns(200);
    const over = makeColumns(200);
    for (let x = 0; x < 200; x++) {
      columns.known[x] = 1;
      columns.high[x] = 160 * x;
      columns.low[x] = -100 * x;
      over.known[x] = x % 7 === 0 ? 0 : 1;
      over.high[x] = 150 * x - 3000;
      over.low[x] = -90 * x + 2000;
    }
    const pictures = [null, over].map((hidden) => {
      const sheet = new PixelSheet(200, 100);
      sheet.fill(0, 0, 200, 100, white);
      sheet.wave(columns, 0, 200, 50, 44, 45, 1, wordOf(200, 200, 200), hidden);
      sheet.wave(over, 0, 200, 50, 44, 45, 1, black);
      return sheet.pixels;
    });
    expect(pictures[0]).toEqual(pictures[1]);
  });

  it('never writes outside its clip, however loud the wave', () => {
    const sheet = new PixelSheet(1, 100);
    sheet.fill(0, 0, 1, 100, white);
    sheet.clip(30, 60);
    const columns = makeColumns(1);
    columns.known[0] = 1;
    columns.high[0] = 32767;
    columns.low[0] = -32768;
    sheet.wave(columns, 0, 1, 35, 4000, 45, 1, black);
    const changed = [...sheet.pixels].map((word, y) => (word === white ? -1 : y)).filter((y) => y >= 0);
    expect(Math.min(...changed)).toBe(30);
    expect(Math.max(...changed)).toBeLessThan(60);
  });
});

describe('colours of waveforms', () => {
  it('stand at least 3 : 1 against the paper, yellow too (WCAG 2.2, 1.4.11)', () => {
    const paper = [255, 253, 247] as const;
    const ink = [42, 36, 28] as const;
    for (const colour of [
      [240, 228, 66],
      [86, 180, 233],
      [0, 114, 178],
    ] as const) {
      expect(contrast(legibleOn(colour, paper, ink), paper)).toBeGreaterThanOrEqual(3);
    }
    expect(contrast([0, 0, 0], [255, 255, 255])).toBeCloseTo(21, 6);
  });
});
