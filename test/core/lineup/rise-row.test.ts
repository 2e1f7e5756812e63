import { describe, expect, it } from 'vitest';
import { riseRow } from '../../../core/lineup/rise-row.ts';
import { FLOOR_SHARES, HOP_SEC, MOST_FRAMES } from '../../../core/lineup/rise-shape.ts';
import { Random } from '../../../core/signal/random.ts';

const SIDE = 256;
const USUAL = 30;

/** Noise in which a tone begins at a frame. */
function noteAt(frame: number, hz: number, rateHz: number, random: Random): Float64Array {
  const hop = HOP_SEC * rateHz;
  const begin = SIDE + frame * hop;
  return Float64Array.from({ length: Math.ceil(MOST_FRAMES * hop) + 2 * SIDE }, (_, n) => {
    const noise = 0.001 * random.gaussian();
    return n < begin ? noise : noise + 0.5 * Math.sin((2 * Math.PI * hz * (n - begin)) / rateHz);
  });
}

describe('what rises along a stretch', () => {
  it.each([
    [256, 8000],
    [512, 8000],
    [256, 7350],
    [512, 8820],
  ])(
    'is the same to the last bit in the kernel and in plain TypeScript: windows of %i samples at %i Hz',
    (size, rateHz) => {
      const random = new Random(3);
      const [kernel, plain] = [riseRow(size, rateHz), riseRow(size, rateHz, 'plain')];
      for (let round = 0; round < 4; round++) {
        const heard = noteAt(20 + 5 * round, 150 + 700 * random.uniform(), rateHz, random);
        const frames = MOST_FRAMES - 7 * round;
        for (const row of [kernel, plain]) row.hear(heard, SIDE, frames, USUAL);
        expect(kernel.loudest()).toBe(plain.loudest());
        for (let floor = 0; floor < FLOOR_SHARES.length; floor++) {
          const [one, other] = [kernel, plain].map((row) => [...row.rises(floor).subarray(0, frames)]);
          expect(one).toEqual(other);
          expect(Math.max(...one!)).toBeGreaterThan(1);
        }
      }
    },
  );

  it('is greatest within half a window of where a tone begins, half way from the frame that it is held against', () => {
    const random = new Random(4);
    for (const size of [256, 512]) {
      const row = riseRow(size, 8000);
      row.hear(noteAt(30, 440, 8000, random), SIDE, MOST_FRAMES, USUAL);
      const rises = row.rises(1);
      const best = rises.indexOf(Math.max(...rises));
      expect(Math.abs(best - 0.5 * row.gap - 30)).toBeLessThanOrEqual((0.5 * size) / (HOP_SEC * 8000) + 0.5);
    }
  });

  it('is nothing where a tone goes on', () => {
    const row = riseRow(256, 8000);
    row.hear(noteAt(-10, 440, 8000, new Random(5)), SIDE, MOST_FRAMES, USUAL);
    expect(Math.max(...row.rises(2))).toBeLessThan(0.2);
  });
});
