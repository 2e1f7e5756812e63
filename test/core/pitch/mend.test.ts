import { describe, expect, it } from 'vitest';
import {
  mendCentsAt,
  mendsAnything,
  planNudges,
  type TakeMend,
  unwarpedTakeSec,
  warpedTakeSec,
  withNudges,
} from '../../../core/pitch/mend.ts';
import { sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';

const mendOf = (mend: Partial<TakeMend>): TakeMend => ({ cents: 0, curve: [], nudges: [], ...mend });

describe('what a mend asks for', () => {
  it('is nothing where all of it is zero', () => {
    expect(mendsAnything(null)).toBe(false);
    expect(mendsAnything(mendOf({ nudges: [{ fromSec: 1, toSec: 2, byMs: 0 }] }))).toBe(false);
    expect(mendsAnything(mendOf({ curve: [{ atSec: 1, cents: 2 }] }))).toBe(true);
  });

  it('adds its curve to its cents, straight between points, level outside, and keeps within 50 cents', () => {
    const mend = mendOf({
      cents: 10,
      curve: [
        { atSec: 10, cents: 0 },
        { atSec: 20, cents: 20 },
        { atSec: 30, cents: 50 },
      ],
    });
    expect([0, 10, 15, 20, 25, 30, 99].map((sec) => mendCentsAt(mend, sec))).toEqual([10, 10, 20, 30, 45, 50, 50]);
  });

  it('moves a stretch as a whole, with glides of 4 % at most before and after it', () => {
    const mend = mendOf({ nudges: [{ fromSec: 10, toSec: 14, byMs: 60 }] });
    const plan = planNudges(mend);
    expect(plan.steepest).toBeCloseTo(0.04, 6);
    expect(plan.held).toEqual([]);
    expect([5, 8.5, 10, 12, 14, 15.5, 20].map((sec) => warpedTakeSec(mend, sec) - sec)).toEqual(
      [0, 0, 0.06, 0.06, 0.06, 0, 0].map((shift) => expect.closeTo(shift, 9)),
    );
    for (let sec = 0; sec < 20; sec += 0.37)
      expect(unwarpedTakeSec(mend, warpedTakeSec(mend, sec))).toBeCloseTo(sec, 9);
  });

  it('takes room from stretches that touch, makes smaller what does not fit within 8 %, and says so', () => {
    const touching = planNudges(
      mendOf({
        nudges: [
          { fromSec: 5, toSec: 8, byMs: 20 },
          { fromSec: 8, toSec: 11, byMs: -20 },
        ],
      }),
    );
    expect(touching.steepest).toBeCloseTo(0.08, 6);
    expect(touching.held.map(({ sentence }) => sentence)).toEqual([
      'The stretch from 5.0 to 8.0 s is moved from 5.00 to 7.75 s only: its neighbour is too close for more.',
      'The stretch from 8.0 to 11.0 s is moved from 8.25 to 11.00 s only: its neighbour is too close for more.',
    ]);
    const tight = planNudges(
      mendOf({
        nudges: [
          { fromSec: 5, toSec: 5.3, byMs: 60 },
          { fromSec: 5.3, toSec: 5.6, byMs: -60 },
        ],
      }),
    );
    expect(tight.steepest).toBeLessThan(0.0801);
    expect(tight.held[0]!.sentence).toBe(
      'The stretch from 5.0 to 5.3 s sounds 8 ms later, not 60 ms later: its neighbour is too close for more.',
    );
  });
});

describe('the clock of what is not mended itself', () => {
  const mend = mendOf({
    nudges: [
      { fromSec: 10, toSec: 14, byMs: 60 },
      { fromSec: 30, toSec: 31, byMs: -25 },
    ],
  });
  const clock = {
    offsetSec: -3.5,
    driftPpm: 40,
    bends: [
      { takeSec: 12, jumpSec: 0.02, driftPpm: -10 },
      { takeSec: 40, jumpSec: 0, driftPpm: 5 },
    ],
  };

  it('says of every moment what the mended sound on its clock says, to a microsecond', () => {
    const bent = withNudges(clock, mend);
    for (let sec = 0; sec < 60; sec += 0.173) {
      expect(sessionSecOf(bent, sec)).toBeCloseTo(sessionSecOf(clock, warpedTakeSec(mend, sec)), 9);
      expect(takeSecOf(bent, sessionSecOf(bent, sec))).toBeCloseTo(sec, 9);
    }
  });

  it('is the clock itself without nudges', () => {
    expect(withNudges(clock, null)).toBe(clock);
    expect(withNudges(clock, mendOf({ cents: 20 }))).toBe(clock);
  });

  it('holds from the beginning where there is no room before it', () => {
    const early = mendOf({ nudges: [{ fromSec: 0, toSec: 5, byMs: 40 }] });
    expect(sessionSecOf(withNudges({ offsetSec: 2, driftPpm: 0 }, early), 0)).toBeCloseTo(2.04, 9);
  });
});
