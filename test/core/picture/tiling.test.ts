import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { aspectOf, liesWithin, overlap, type Size } from '../../../core/picture/canvas.ts';
import { croppedShare } from '../../../core/picture/crop.ts';
import { MOST_CROP, TILING_KINDS, type Tiling, tile } from '../../../core/picture/tiling.ts';

const CANVASES: readonly Size[] = [
  { widthPx: 1920, heightPx: 1080 },
  { widthPx: 1080, heightPx: 1920 },
  { widthPx: 1080, heightPx: 1080 },
  { widthPx: 1080, heightPx: 1350 },
  { widthPx: 3840, heightPx: 2160 },
];
const FLAT = 16 / 9;
const UPRIGHT = 9 / 16;
const usual = { gapPx: 8, marginPx: 8, mostCrop: MOST_CROP } as const;

function faultsOf(tiling: Tiling, canvas: Size, aspects: readonly number[], mostCrop: number): string[] {
  const faults: string[] = [];
  if (tiling.boxes.length !== aspects.length) faults.push(`${tiling.boxes.length} boxes for ${aspects.length} voices`);
  for (const [index, box] of tiling.boxes.entries()) {
    const named = `box ${index} ${JSON.stringify(box)}`;
    if (!liesWithin(box, canvas)) faults.push(`${named} leaves the canvas`);
    if (Object.values(box).some((side) => side % 2 !== 0)) faults.push(`${named} is not even`);
    // Sides are even, so a box of s px may miss its shape by 2 / s on each side.
    const slack = 2 / box.widthPx + 2 / box.heightPx;
    const crop = croppedShare(aspects[index]!, aspectOf(box));
    if (crop > mostCrop + slack) faults.push(`${named} cuts off ${crop.toFixed(3)} of its clip`);
    for (const other of tiling.boxes.slice(index + 1))
      if (overlap(box, other)) faults.push(`${named} overlaps another`);
  }
  return faults;
}

describe('tilings', () => {
  it('lie within the canvas on even px, do not overlap and cut off no more than allowed, for 1 to 30 voices of any shapes', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...CANVASES),
        fc.constantFrom(...TILING_KINDS),
        fc.array(fc.constantFrom(FLAT, UPRIGHT, 4 / 3, 3 / 4, 1, 2.1), { minLength: 1, maxLength: 30 }),
        fc.constantFrom(0, 4, 12),
        fc.constantFrom(0.1, MOST_CROP, 0.7),
        fc.nat(29),
        (canvas, kind, aspects, gapPx, mostCrop, lead) => {
          const leadIndex = lead % aspects.length;
          const tiling = tile(canvas, aspects, { kind, gapPx, marginPx: gapPx, mostCrop, leadIndex });
          const most = kind === 'strip' ? Math.max(mostCrop, 0.75) : mostCrop;
          // A rank first cuts a flat clip to 4:3, then as much as is allowed.
          const allowed = kind === 'ranks' ? 1 - (1 - most) ** 2 : most;
          expect(faultsOf(tiling, canvas, aspects, allowed)).toEqual([]);
        },
      ),
      { numRuns: 300, seed: 6 },
    );
  });

  it('give the same tiles for the same clips', () => {
    const aspects = [FLAT, UPRIGHT, FLAT, FLAT, UPRIGHT];
    for (const kind of TILING_KINDS) {
      const once = tile(CANVASES[0]!, aspects, { ...usual, kind });
      expect(tile(CANVASES[0]!, aspects, { ...usual, kind })).toEqual(once);
    }
  });

  it('fill a flat canvas with 4, 9 and 16 flat clips: nothing cut off, less than 6 % for gaps', () => {
    for (const count of [4, 9, 16]) {
      const { quality } = tile(CANVASES[0]!, Array(count).fill(FLAT), { ...usual, kind: 'rows' });
      // Gaps of 8 px are not of the canvas's shape, which costs each tile some px; 16 tiles leave 5 of them down 1080 px.
      expect(quality.crop).toBeLessThan(0.02);
      expect(quality.waste).toBeLessThan(0.06);
    }
  });

  it('put two upright clips side by side on a flat canvas and one above the other nowhere', () => {
    const { boxes } = tile(CANVASES[0]!, [UPRIGHT, UPRIGHT], { ...usual, kind: 'rows' });
    expect(boxes[0]!.yPx).toBe(boxes[1]!.yPx);
    expect(boxes[0]!.xPx).toBeLessThan(boxes[1]!.xPx);
  });

  it('put two flat clips one above the other on an upright canvas', () => {
    const { boxes } = tile(CANVASES[1]!, [FLAT, FLAT], { ...usual, kind: 'rows' });
    expect(boxes[0]!.xPx).toBe(boxes[1]!.xPx);
    expect(boxes[0]!.yPx).toBeLessThan(boxes[1]!.yPx);
  });

  it('mix flat and upright clips at less cost than half of the canvas', () => {
    for (const canvas of CANVASES) {
      const { quality } = tile(canvas, [FLAT, UPRIGHT, FLAT, UPRIGHT, FLAT], { ...usual, kind: 'rows' });
      expect(quality.waste + quality.crop).toBeLessThan(0.5);
    }
  });

  it('make the lead larger than every other tile', () => {
    for (const count of [2, 3, 5, 8, 13, 25]) {
      const leadIndex = Math.floor(count / 2);
      const { boxes } = tile(CANVASES[0]!, Array(count).fill(FLAT), { ...usual, kind: 'lead', leadIndex });
      const areas = boxes.map((box) => box.widthPx * box.heightPx);
      expect(Math.max(...areas)).toBe(areas[leadIndex]);
      expect(areas.filter((area) => area === areas[leadIndex])).toHaveLength(1);
    }
  });

  it('make the tiles of a rank in front no lower than those behind', () => {
    const { boxes } = tile(CANVASES[0]!, Array(12).fill(UPRIGHT), { ...usual, kind: 'ranks' });
    const tops = [...new Set(boxes.map((box) => box.yPx))].sort((one, other) => one - other);
    const heights = tops.map((top) => boxes.find((box) => box.yPx === top)!.heightPx);
    expect(tops.length).toBeGreaterThan(1);
    for (let rank = 1; rank < heights.length; rank++) expect(heights[rank]).toBeGreaterThanOrEqual(heights[rank - 1]!);
  });

  it('keep the order of the voices: left to right, then down', () => {
    const { boxes } = tile(CANVASES[0]!, Array(7).fill(FLAT), { ...usual, kind: 'rows' });
    for (let index = 1; index < boxes.length; index++) {
      const [before, after] = [boxes[index - 1]!, boxes[index]!];
      expect(after.yPx >= before.yPx + before.heightPx || after.xPx >= before.xPx + before.widthPx).toBe(true);
    }
  });

  it('lay 25 voices within 50 ms of processor time', () => {
    const aspects = Array.from({ length: 25 }, (_, index) => (index % 3 === 0 ? UPRIGHT : FLAT));
    for (const kind of TILING_KINDS) tile(CANVASES[4]!, aspects, { ...usual, kind });
    const from = process.cpuUsage();
    for (const kind of TILING_KINDS) tile(CANVASES[4]!, aspects, { ...usual, kind });
    // 2 to 6 ms a kind on a quiet machine; the rest is for one whose caches others use.
    expect(process.cpuUsage(from).user / 1000 / TILING_KINDS.length).toBeLessThan(50);
  });

  it('say that 200 voices do not fit in a strip 240 px wide', () => {
    const canvas = { widthPx: 240, heightPx: 240 };
    expect(() => tile(canvas, Array(200).fill(FLAT), { ...usual, kind: 'strip' })).toThrow(/do not fit/);
  });
});
