import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { matchTones, type ToneMeasure, toneFilter, toneOnScreen } from '../../../core/picture/tone-match.ts';

const tone = (luma: number, blueDifference = 128, redDifference = 128): ToneMeasure => ({
  luma,
  blueDifference,
  redDifference,
});

describe('matching exposure and white balance', () => {
  it('leaves clips alone that are alike', () => {
    for (const change of matchTones([tone(100), tone(100), tone(100)])) {
      expect(change).toEqual({ gain: 1, blueShift: 0, redShift: 0 });
    }
  });

  it('takes 70 % of the way of a dark and a warm clip to the others', () => {
    const [, , dark, warm] = matchTones([tone(116), tone(116), tone(96), tone(116, 120, 136)]);
    // From 80 to 100 above black.
    expect(dark!.gain).toBeCloseTo((100 / 80) ** 0.7, 6);
    expect([warm!.blueShift, warm!.redShift]).toEqual([expect.closeTo(5.6, 6), expect.closeTo(-5.6, 6)]);
  });

  it('never brightens by more than 1.41 or shifts by more than 10, and never moves clips apart', () => {
    const measure = fc.record({
      luma: fc.double({ min: 24, max: 230, noNaN: true }),
      blueDifference: fc.double({ min: 90, max: 170, noNaN: true }),
      redDifference: fc.double({ min: 90, max: 170, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(measure, { minLength: 2, maxLength: 9 }), (measures) => {
        const changes = matchTones(measures);
        const after = measures.map(({ luma }, index) => (luma - 16) * changes[index]!.gain);
        const spread = (values: readonly number[]): number => Math.max(...values) / Math.min(...values);
        expect(spread(after)).toBeLessThanOrEqual(spread(measures.map(({ luma }) => luma - 16)) + 1e-9);
        for (const { gain, blueShift, redShift } of changes.map((change) => change!)) {
          expect(gain).toBeLessThanOrEqual(Math.SQRT2 + 1e-12);
          expect(gain).toBeGreaterThanOrEqual(Math.SQRT1_2 - 1e-12);
          expect(Math.max(Math.abs(blueShift), Math.abs(redShift))).toBeLessThanOrEqual(10);
        }
      }),
      { seed: 6 },
    );
  });

  it('has nothing to say of one clip alone, of none, and of an almost black one', () => {
    expect(matchTones([tone(100), null])).toEqual([null, null]);
    expect(matchTones([tone(100), tone(90), tone(17)])[2]).toBeNull();
  });

  it('writes tables that leave grey grey', () => {
    expect(toneFilter({ gain: 1, blueShift: 0, redShift: 0 })).toContain("u='clip(128+(val-128)*1.0000+0.000,16,240)'");
  });

  it('are shown on screen as the video has them, within 1 of 255, where nothing is clipped', () => {
    const toRgb = (y: number, u: number, v: number): number[] => {
      const [luma, blue, red] = [(y - 16) / 219, (u - 128) / 224, (v - 128) / 224];
      return [luma + 1.5748 * red, luma - 0.1873 * blue - 0.4681 * red, luma + 1.8556 * blue];
    };
    const change = { gain: 1.2, blueShift: -6, redShift: 4 };
    const { gain, shifts } = toneOnScreen(change);
    for (const [y, u, v] of [
      [60, 120, 130],
      [120, 140, 118],
      [170, 128, 128],
    ] as const) {
      // What lutyuv does: luma from black, colours around grey.
      const filtered = toRgb(16 + (y - 16) * 1.2, 128 + (u - 128) * 1.2 - 6, 128 + (v - 128) * 1.2 + 4);
      const shown = toRgb(y, u, v).map((value, n) => gain * value + shifts[n]!);
      for (const [n, value] of shown.entries()) expect(Math.abs(value - filtered[n]!)).toBeLessThan(1 / 255);
    }
  });
});
