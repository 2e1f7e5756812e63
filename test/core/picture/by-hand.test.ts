import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { aspectOf, type Box, canvasOfShape, liesWithin, overlap, parseCanvas } from '../../../core/picture/canvas.ts';
import { cellsFor } from '../../../core/picture/cells.ts';
import { cutFor } from '../../../core/picture/crop.ts';
import { designFaults, swapTiles, usualDesign, withTile } from '../../../core/picture/picture-design.ts';
import { snapMoved, snapResized } from '../../../core/picture/snap.ts';
import { MOST_CROP, TILING_KINDS, tile } from '../../../core/picture/tiling.ts';

const canvas = { widthPx: 1920, heightPx: 1080 };
const even = (most: number) => fc.integer({ min: 16, max: most / 2 }).map((half) => half * 2);
const size = fc.record({ widthPx: even(1920), heightPx: even(1080) });

describe('the canvas', () => {
  it('is named by its px or its shape, and is even', () => {
    expect(parseCanvas('1280x720')).toEqual({ widthPx: 1280, heightPx: 720 });
    expect(parseCanvas('9:16')).toEqual({ widthPx: 1080, heightPx: 1920 });
    expect(canvasOfShape('4:5', 1080)).toEqual({ widthPx: 1080, heightPx: 1350 });
    expect(canvasOfShape('16:9', 2160)).toEqual({ widthPx: 3840, heightPx: 2160 });
    for (const text of ['wide', '100x100', '8000x4000', '1921x1080', '3:2']) expect(() => parseCanvas(text)).toThrow();
  });
});

describe('the part of a clip that is seen', () => {
  it('lies in the clip, is even, and keeps its shape within 2 px on each side, for any focus and zoom', () => {
    const share = fc.double({ min: 0, max: 1, noNaN: true });
    fc.assert(
      fc.property(
        size,
        size,
        share,
        share,
        fc.double({ min: 1, max: 8, noNaN: true }),
        (clip, seen, focusX, focusY, zoom) => {
          const cut = cutFor(clip, seen, { focusX, focusY, zoom });
          expect(liesWithin(cut, clip)).toBe(true);
          expect(Object.values(cut).every((side) => side % 2 === 0)).toBe(true);
          // Cuts of less than 16 px are made larger.
          if (Math.min(cut.widthPx, cut.heightPx) <= 16) return;
          const off = Math.abs(cut.widthPx - cut.heightPx * aspectOf(seen));
          expect(off).toBeLessThanOrEqual(2 + 2 * aspectOf(seen));
        },
      ),
      { seed: 6 },
    );
  });

  it('is the middle of an upright clip in a flat tile, moved to the focus', () => {
    const clip = { widthPx: 1080, heightPx: 1920 };
    expect(cutFor(clip, canvas, { focusX: 0.5, focusY: 0.5, zoom: 1 })).toEqual({
      xPx: 0,
      yPx: 656,
      widthPx: 1080,
      heightPx: 608,
    });
    expect(cutFor(clip, canvas, { focusX: 0.5, focusY: 0, zoom: 1 }).yPx).toBe(0);
    expect(cutFor(clip, canvas, { focusX: 1, focusY: 1, zoom: 2 })).toEqual({
      xPx: 540,
      yPx: 1616,
      widthPx: 540,
      heightPx: 304,
    });
  });
});

describe('cells that can be stacked', () => {
  it('hold each tile whole and fill the canvas, for every tiling but rings that interlock', () => {
    for (const kind of TILING_KINDS) {
      for (let count = 1; count <= 25; count++) {
        const aspects = Array.from({ length: count }, (_, index) => (index % 3 === 1 ? 9 / 16 : 16 / 9));
        const { boxes } = tile(canvas, aspects, { kind, gapPx: 6, marginPx: 6, mostCrop: MOST_CROP });
        const cells = cellsFor(canvas, boxes);
        if (cells === undefined) {
          expect(kind).toBe('lead');
          continue;
        }
        expect(cells.reduce((sum, cell) => sum + cell.widthPx * cell.heightPx, 0)).toBe(
          canvas.widthPx * canvas.heightPx,
        );
        for (const [index, cell] of cells.entries()) {
          const box = boxes[index]!;
          expect(liesWithin({ ...box, xPx: box.xPx - cell.xPx, yPx: box.yPx - cell.yPx }, cell)).toBe(true);
          for (const other of cells.slice(index + 1)) expect(overlap(cell, other)).toBe(false);
        }
      }
    }
  });

  it('are not to be had for tiles that overlap', () => {
    const box: Box = { xPx: 0, yPx: 0, widthPx: 100, heightPx: 100 };
    expect(cellsFor(canvas, [box, { ...box, xPx: 50, yPx: 50 }])).toBeUndefined();
  });
});

describe('tiles by hand', () => {
  const others: Box[] = [{ xPx: 0, yPx: 0, widthPx: 640, heightPx: 360 }];
  const options = { canvas, others, gapPx: 8, reachPx: 12 };

  it('snap to a neighbour with its gap, and to the middle of the canvas, within 12 px', () => {
    const { box, lines } = snapMoved({ xPx: 655, yPx: 3, widthPx: 640, heightPx: 360 }, options);
    expect(box).toEqual({ xPx: 648, yPx: 0, widthPx: 640, heightPx: 360 });
    expect(lines).toHaveLength(2);
    const middle = snapMoved({ xPx: 646, yPx: 600, widthPx: 640, heightPx: 360 }, { ...options, others: [] });
    expect(middle.box.xPx + middle.box.widthPx / 2).toBe(960);
  });

  it('stay on the canvas and on even px wherever they are dropped or drawn to', () => {
    const far = fc.integer({ min: -3000, max: 5000 });
    fc.assert(
      fc.property(far, far, size, fc.boolean(), (xPx, yPx, tileSize, keepAspect) => {
        const moved = snapMoved({ xPx, yPx, ...tileSize }, options).box;
        const grown = snapResized(
          { ...moved, widthPx: moved.widthPx + Math.abs(xPx), heightPx: moved.heightPx },
          options,
          keepAspect,
        ).box;
        for (const box of [moved, grown]) {
          expect(Object.values(box).every((side) => side % 2 === 0)).toBe(true);
          expect(box.xPx >= 0 && box.yPx >= 0).toBe(true);
        }
        expect(liesWithin(moved, canvas)).toBe(true);
        expect(liesWithin(grown, canvas)).toBe(true);
      }),
      { seed: 6 },
    );
  });

  it('change places, and keep what belongs to their clips', () => {
    const boxes = new Map<string, Box>([
      ['a', others[0]!],
      ['b', { xPx: 700, yPx: 0, widthPx: 200, heightPx: 200 }],
    ]);
    const design = withTile(usualDesign(canvas), 'a', { mirrored: true });
    const swapped = swapTiles(design, boxes, 'a', 'b');
    expect(swapped.tiles.find(({ voiceId }) => voiceId === 'a')).toMatchObject({ mirrored: true, box: boxes.get('b') });
    expect(swapped.tiles.find(({ voiceId }) => voiceId === 'b')).toMatchObject({ box: boxes.get('a') });
    expect(design.tiles).toHaveLength(1);
  });

  it('are refused where they leave the canvas or lie on odd px', () => {
    const leaving = withTile(usualDesign(canvas), 'a', { box: { xPx: 1900, yPx: 0, widthPx: 100, heightPx: 101 } });
    expect(designFaults(leaving)).toHaveLength(2);
  });
});
