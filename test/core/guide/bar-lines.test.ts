import { describe, expect, it } from 'vitest';
import { barLines, groupsOf } from '../../../core/guide/bar-lines.ts';
import type { Metre } from '../../../core/guide/score.ts';

const metre = (beats: number, unit: number, atBar = 0): Metre => ({ atBar, beats, unit, groups: null });

describe('bars and beats', () => {
  it('counts a pick-up as bar 0 and its quarter as beat 4 of 4/4', () => {
    const bars = barLines({ metres: [metre(4, 4)], pickUpQuarters: 1, lengthQuarters: 9 });
    expect(bars.map((bar) => [bar.number, bar.atQuarters])).toEqual([
      [0, 0],
      [1, 1],
      [2, 5],
    ]);
    expect(bars[0]!.beats).toEqual([{ atQuarters: 0, number: 4, lengthQuarters: 1, units: 1 }]);
  });

  it('changes from 3/4 to 6/8 to 7/8 with beats of 1, 3 and 2 + 2 + 3 units', () => {
    const bars = barLines({
      metres: [metre(3, 4), metre(6, 8, 1), metre(7, 8, 2)],
      pickUpQuarters: 0,
      lengthQuarters: 9.5,
    });
    expect(bars.map((bar) => bar.atQuarters)).toEqual([0, 3, 6]);
    expect(bars.map((bar) => bar.beats.map((beat) => beat.atQuarters))).toEqual([
      [0, 1, 2],
      [3, 4.5],
      [6, 7, 8],
    ]);
  });

  it('groups 12/8 in threes, 5/8 as 3 + 2, 5/4 in ones', () => {
    expect(groupsOf(metre(12, 8))).toEqual([3, 3, 3, 3]);
    expect(groupsOf(metre(5, 8))).toEqual([3, 2]);
    expect(groupsOf(metre(5, 4))).toEqual([1, 1, 1, 1, 1]);
  });

  it('refuses a metre of 4/3 and groups that do not add up', () => {
    expect(() => barLines({ metres: [metre(4, 3)], pickUpQuarters: 0, lengthQuarters: 4 })).toThrow(/unit is 3/);
    const odd = { ...metre(7, 8), groups: [3, 3] };
    expect(() => barLines({ metres: [odd], pickUpQuarters: 0, lengthQuarters: 4 })).toThrow(/add up to 7/);
  });
});
