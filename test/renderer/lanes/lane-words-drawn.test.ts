import { describe, expect, it } from 'vitest';
import { writeOutside } from '../../../renderer/lanes/draw-head.ts';
import { drawJoins } from '../../../renderer/lanes/draw-joins.ts';
import type { Drawing, Label } from '../../../renderer/lanes/draw-lane.ts';
import type { Scene } from '../../../renderer/lanes/lane-scene.ts';

/** A canvas 1000 px wide on which a second is 10 px, that keeps only its words. */
function paper(): { drawing: Drawing; labels: Label[] } {
  const labels: Label[] = [];
  const drawing = {
    sheet: { fill: () => {} },
    view: { leftFrame: 0, framesPerPx: 4800, widthPx: 1000 },
    dpr: 1,
    palette: { css: { faint: '#888', mark: '#a30' }, mark: 0 },
    labels,
  } as unknown as Drawing;
  return { drawing, labels };
}

const clap = (clapSec: number) => ({ fromSec: clapSec - 2, toSec: clapSec + 1, label: 'cue', clapSec });

describe('words over the lanes', () => {
  it('say what is not in the mix only so far as the next clap is not written there', () => {
    const { drawing, labels } = paper();
    const guide = { shades: [clap(14), clap(92)] };
    writeOutside(drawing, { guide, mixSpan: { fromSec: 20, toSec: 85 } } as unknown as Scene, 0);
    // From 6 px on and 8 px before the clap at 140 px; from 850 px on and before the clap at 920 px.
    expect(labels.map(({ x, room }) => [x, room])).toEqual([
      [6, 122],
      [856, 52],
    ]);
  });

  it('name the take before the first join beside a scale at the left, not under it', () => {
    const passages = {
      parts: [],
      firstNumber: 1,
      joins: [{ atSec: 50, index: 0, takeNumber: 2 }],
    } as unknown as Parameters<typeof drawJoins>[1];
    const xOf = (leftX: number): number[] => {
      const { drawing, labels } = paper();
      drawJoins(drawing, passages, 0, 60, leftX);
      return labels.map(({ x }) => x);
    };
    expect(xOf(0)).toEqual([6, 506]);
    expect(xOf(40)).toEqual([46, 506]);
  });
});
