import { describe, expect, it } from 'vitest';
import { voicePassages } from '../../renderer/lanes/lane-parts.ts';
import { bestPair, nextPoint } from '../../renderer/passages/passage-edits.ts';
import { sheetOf } from '../../renderer/steps/takes/take-sheet.ts';
import { benchSession } from './steps/bench-session.ts';

const point = (atSec: number, kind: 'rest' | 'beginning' | 'held' = 'rest') => ({ atSec, kind });

describe('where a stretch is joined', () => {
  it('is the best place at both ends, unless the ends would cross: then the next best', () => {
    const wished = { fromSec: 10, toSec: 11 };
    expect(bestPair([point(10.1)], [point(10.9)], wished)).toEqual({ fromSec: 10.1, toSec: 10.9 });
    expect(bestPair([point(10.5)], [point(10.6), point(11.2)], wished)).toEqual({ fromSec: 10.5, toSec: 11.2 });
    expect(bestPair([point(11.4), point(9.9)], [point(11.3)], wished)).toEqual({ fromSec: 9.9, toSec: 11.3 });
    expect(bestPair([point(12)], [point(11)], wished)).toEqual(wished);
  });

  it('is as wished at an end where the take does not change', () => {
    expect(bestPair([], [point(12.2)], { fromSec: 10, toSec: 12 })).toEqual({ fromSec: 10, toSec: 12.2 });
  });

  it('goes along to the nearest rest or note that way, or by 20 ms where there is none', () => {
    const points = [point(10.6), point(10.3, 'beginning'), point(9.8), point(10.1, 'held')];
    expect(nextPoint(points, 10, 1)).toEqual(point(10.3, 'beginning'));
    expect(nextPoint(points, 10, -1)).toEqual(point(9.8));
    expect(nextPoint([], 10, -1)).toEqual(point(9.98, 'held'));
  });
});

describe('a voice made of passages', () => {
  it('has a part for each in its lane, open at both ends, and the number of the take after each join', () => {
    const { voices, takes } = benchSession(1);
    const own = [takes[0]!, { ...takes[0]!, id: 'b' }];
    const passages = [
      { takeId: takes[0]!.id, fromSec: 0, toSec: 10 },
      { takeId: 'b', fromSec: 10, toSec: 20 },
    ];
    const lane = voicePassages({ ...voices[0]!, passages }, own, () => null)!;
    expect(lane.joins).toEqual([{ atSec: 10, index: 0, takeNumber: 2 }]);
    expect(lane.firstNumber).toBe(1);
    expect(lane.parts.map(({ fromSec, toSec }) => [fromSec, toSec])).toEqual([
      [Number.NEGATIVE_INFINITY, 10],
      [10, Number.POSITIVE_INFINITY],
    ]);
    expect(voicePassages(voices[0]!, own, () => null)).toBeNull();
  });
});

describe('the take sheet on the screen', () => {
  it('proposes nothing while a take is not measured yet, nor for one take', () => {
    const { takes } = benchSession(2);
    expect(sheetOf(takes.slice(0, 1), {}, null)).toBeNull();
    expect(sheetOf(takes, {}, null)).toBeNull();
  });
});
