import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  closeness,
  type Extent,
  following,
  frameAt,
  framesPerPxAt,
  kept,
  leftFrameOfScrollbar,
  pixelOf,
  scrollbarOf,
  showing,
  type TimeView,
  wholeFramesPerPx,
  zoomedAt,
} from '../../../renderer/lanes/time-view.ts';

const extent: Extent = { fromFrame: -48000, toFrame: 28_800_000 };
const whole: TimeView = kept({ leftFrame: 0, framesPerPx: Number.POSITIVE_INFINITY, widthPx: 1000 }, extent);

describe('the part of the time line in view', () => {
  it('shows the whole piece at its widest, from end to end', () => {
    expect(whole.leftFrame).toBe(extent.fromFrame);
    expect(frameAt(whole, 1000)).toBeCloseTo(extent.toFrame, 3);
  });

  it('zooms down to 40 pixels a sample and no further', () => {
    const close = zoomedAt(whole, extent, 500, 1e12);
    expect(1 / close.framesPerPx).toBeCloseTo(40, 9);
  });

  it('keeps the time under the pointer while zooming in, to a hundredth of a pixel', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 1000, noNaN: true }),
        fc.double({ min: 1, max: 1e5, noNaN: true }),
        (x, factor) => {
          const at = frameAt(whole, x);
          return Math.abs(pixelOf(zoomedAt(whole, extent, x, factor), at) - x) < 0.01;
        },
      ),
      { seed: 11 },
    );
  });

  it('never leaves the piece, whatever is asked', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e9, max: 1e9, noNaN: true }),
        fc.double({ min: 1e-6, max: 1e9, noNaN: true }),
        (leftFrame, framesPerPx) => {
          const view = kept({ leftFrame, framesPerPx, widthPx: 1000 }, extent);
          return view.leftFrame >= extent.fromFrame - 1e-3 && frameAt(view, 1000) <= extent.toFrame + 1e-3;
        },
      ),
      { seed: 12 },
    );
  });

  it('shows a stretch with air on both sides', () => {
    const view = showing(whole, extent, 480_000, 960_000);
    expect(pixelOf(view, 480_000)).toBeCloseTo(1000 / 12, 1);
    expect(pixelOf(view, 960_000)).toBeCloseTo(11000 / 12, 1);
  });

  it('maps the slider to zoom and back to 1e-9', () => {
    const widest = wholeFramesPerPx(extent, 1000);
    for (const close of [0, 0.25, 0.5, 1])
      expect(closeness(framesPerPxAt(close, widest), widest)).toBeCloseTo(close, 9);
  });

  it('follows by pages only when the line has left the view, and smoothly at two fifths', () => {
    const view = kept({ leftFrame: 480_000, framesPerPx: 480, widthPx: 1000 }, extent);
    expect(following(view, extent, 500_000, 'pages')).toBe(view);
    expect(pixelOf(following(view, extent, 980_000, 'pages'), 980_000)).toBeCloseTo(60, 6);
    expect(pixelOf(following(view, extent, 500_000_0, 'smoothly'), 500_000_0)).toBeCloseTo(400, 6);
    expect(following(view, extent, 9_800_000, 'off')).toBe(view);
  });

  it('maps a scrollbar of at most a million pixels to 10 min at one sample a pixel and back', () => {
    const view = kept({ leftFrame: 12_345_678, framesPerPx: 1, widthPx: 1000 }, extent);
    const bar = scrollbarOf(view, extent);
    expect(bar.insidePx).toBe(1_000_000);
    expect(leftFrameOfScrollbar(view, extent, bar.leftPx, bar.insidePx)).toBeCloseTo(12_345_678, 3);
  });
});
