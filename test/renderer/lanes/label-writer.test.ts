import { describe, expect, it } from 'vitest';
import type { Label } from '../../../renderer/lanes/draw-lane.ts';
import { LabelWriter } from '../../../renderer/lanes/label-writer.ts';
import type { Palette } from '../../../renderer/lanes/palette.ts';

/** Writes labels on a paper 200 px wide on which a letter is 6 px; gives the words that came. headLabels: so many are of the head. */
function written(labels: readonly Partial<Label>[], headLabels: number): string[] {
  const words: string[] = [];
  const context = {
    measureText: (text: string) => ({ width: 6 * text.length }),
    fillText: (text: string) => words.push(text),
    strokeText: () => {},
    fillRect: () => {},
  } as unknown as CanvasRenderingContext2D;
  const whole = labels.map((label) => ({ y: 60, colour: '#000', room: 0, strong: false, x: 0, text: '', ...label }));
  const palette = { css: { text: 'sans-serif', sheet: '#fff' } } as unknown as Palette;
  new LabelWriter().write(context, whole, { headLabels, headEnd: 40, guideTop: 26, widthPx: 200, palette, dpr: 1 });
  return words;
}

describe('words over the lanes', () => {
  it('leave out a time that the right edge would cut through, since it would read as another', () => {
    const times = [
      { x: 4, y: 10, text: '0:00' },
      { x: 176, y: 10, text: '0:50' },
      { x: 190, y: 10, text: '0:55' },
    ];
    expect(written(times, 3)).toEqual(['0:00', '0:50']);
  });

  it('keep a name in a lane that goes over the edge', () => {
    expect(written([{ x: 190, text: 'clap' }], 0)).toEqual(['clap']);
  });
});
