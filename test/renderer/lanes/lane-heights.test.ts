import { describe, expect, it } from 'vitest';
import { heightsFor } from '../../../renderer/lanes/lane-heights.ts';

const tall = (size: Parameters<typeof heightsFor>[0], voices: number, takes: number, roomPx: number): number => {
  const { voicePx, takePx } = heightsFor(size, { voices, takes }, roomPx);
  return voices * voicePx + takes * takePx;
};

describe('heights of lanes that fit the room', () => {
  it('shows 4 voices in 160 px and 6 voices with 4 unfolded takes in 400 px whole', () => {
    expect(tall('fit', 4, 0, 160)).toBe(160);
    expect(tall('fit', 6, 4, 400)).toBeLessThanOrEqual(400);
    expect(tall('fit', 6, 4, 400)).toBeGreaterThan(380);
  });

  it('never makes 24 voices lower than 34 px, which leaves room for their controls: they scroll', () => {
    expect(heightsFor('fit', { voices: 24, takes: 0 }, 240).voicePx).toBe(34);
  });

  it('lets 1 voice be no taller than 108 px in 600 px', () => {
    expect(heightsFor('fit', { voices: 1, takes: 0 }, 600).voicePx).toBe(108);
  });

  it('keeps a fixed height of 76 px whatever the room is', () => {
    expect(heightsFor('middle', { voices: 24, takes: 0 }, 100).voicePx).toBe(76);
    expect(heightsFor('fit', { voices: 4, takes: 0 }, 0).voicePx).toBe(76);
  });
});
