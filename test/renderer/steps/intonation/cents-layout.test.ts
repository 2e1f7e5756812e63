import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../../core/guide/plain-score.ts';
import { keptPlan } from '../../../../core/session/kept-plan.ts';
import { halfCentsOf, layoutCents, timeSpan } from '../../../../renderer/steps/intonation/cents-layout.ts';

const box = { left: 40, right: 640, top: 10, bottom: 110 };
const note = (fromSec: number, toSec: number, offCents: number) => ({ fromSec, toSec, offCents });

describe('the picture of cents over time', () => {
  it('reaches 30 cents to both sides, more where notes lie farther, at most 60', () => {
    expect([[], [note(0, 1, 12)], [note(0, 1, -36)], [note(0, 1, 200)]].map(halfCentsOf)).toEqual([30, 30, 40, 60]);
  });

  it('lays a note at its cents for as long as it was held, short ones 3 px long', () => {
    const { notes } = layoutCents([note(0, 1, 15), note(5, 5.001, -25)], { fromSec: 0, toSec: 10 }, null, box);
    expect(notes[0]).toEqual({ x1: 40, x2: 100, y: 35, beyond: 0, out: true });
    expect(notes[1]).toEqual({ x1: 340, x2: 343, y: expect.closeTo(101.7, 1), beyond: 0, out: true });
  });

  it('holds notes beyond the picture at its edge and says on which side they are', () => {
    const { notes } = layoutCents(
      [note(0, 1, 75), note(1, 2, -80), note(2, 3, 2)],
      { fromSec: 0, toSec: 10 },
      null,
      box,
    );
    expect(notes.map(({ y, beyond, out }) => [y, beyond, out])).toEqual([
      [10, 1, true],
      [110, -1, true],
      [expect.closeTo(58.3, 1), 0, false],
    ]);
  });

  it('has one time for all voices, and a time where there is no note', () => {
    expect(timeSpan([{ notes: [note(3, 4, 0)] }, { notes: [] }, { notes: [note(1, 2, 0)] }])).toEqual({
      fromSec: 1,
      toSec: 4,
    });
    expect(timeSpan([{ notes: [] }])).toEqual({ fromSec: 0, toSec: 1 });
  });

  it('counts in bars where the guide knows them, so that labels stand 34 px apart, else in minutes and seconds', () => {
    const piece = plainScore({ title: '', quartersPerMinute: 60, beats: 4, unit: 4, bars: 40 });
    const plan = keptPlan(planGuide(piece, { ...usualGuide, restingBars: [] }), [])!;
    const fromSec = plan.musicFrame / 48000;
    const inBars = layoutCents([], { fromSec, toSec: fromSec + 160 }, plan, box);
    expect(inBars.inBars).toBe(true);
    expect(inBars.timeTicks.map(({ words }) => words)).toEqual([
      '1',
      '5',
      '9',
      '13',
      '17',
      '21',
      '25',
      '29',
      '33',
      '37',
    ]);
    const inTime = layoutCents([], { fromSec: 0, toSec: 90 }, null, box);
    expect(inTime.inBars).toBe(false);
    expect(inTime.timeTicks.slice(0, 3).map(({ words }) => words)).toEqual(['0:00', '0:20', '0:40']);
  });
});
