import { describe, expect, it } from 'vitest';
import { anchorsOf } from '../../../../core/session/anchors.ts';
import { apply } from '../../../../core/session/edit.ts';
import { offsetCurve } from '../../../../core/session/offset-curve.ts';
import { msRange } from '../../../../core/session/offset-drawing.ts';
import type { Placement, Session, Take } from '../../../../core/session/schema.ts';
import { sessionSecOf } from '../../../../core/signal/clock.ts';
import { movedByHand } from '../../../../renderer/lanes/placement-time.ts';
import { curveWords, layOffsets, msWords } from '../../../../renderer/steps/line-up/offset-axes.ts';
import {
  acceptEdit,
  aloneOutcome,
  backEdit,
  jumpOutcome,
  type PinOutcome,
  pinOutcome,
  unpinOutcome,
} from '../../../../renderer/steps/line-up/placement-edits.ts';
import { bendsWords, residualWords } from '../../../../renderer/steps/line-up/placement-words.ts';
import { inventedPlacement } from '../../../stand-in/stand-in-trail.ts';
import { benchSession, foundPlacement } from '../bench-session.ts';

const session = benchSession(1);

function sessionAfter(outcome: PinOutcome, before: Session = session): Session {
  if ('reason' in outcome) throw new Error(outcome.reason);
  return apply(before, outcome.edit);
}

const takeOf = (of: Session): Take => of.takes[0]!;

/** Pinned at 10 s and 60 s of the session, the second held 2 ms later than its place. */
function pinnedTwice(): Session {
  const once = sessionAfter(pinOutcome(takeOf(session), 10, 0));
  return sessionAfter(pinOutcome(takeOf(once), 60, 0.002), once);
}

describe('pins', () => {
  it('lay the moment under the glass on the line, as it was held', () => {
    const pinned = sessionAfter(pinOutcome(takeOf(session), 10, 0.0035));
    // What lies at 9.9965 s of the session was held under the line at 10 s.
    expect(sessionSecOf(takeOf(pinned).placement!, 8.9965)).toBeCloseTo(10, 12);
    expect(anchorsOf(takeOf(pinned).placement)).toEqual([
      { takeSec: expect.closeTo(8.9965, 9), atSec: 10, jumpTakeSec: null },
    ]);
  });

  it('are moved by a pin nearer than 1 s, refused nearer than 5 s', () => {
    const pinned = sessionAfter(pinOutcome(takeOf(session), 10, 0));
    expect(anchorsOf(takeOf(sessionAfter(pinOutcome(takeOf(pinned), 10.4, 0.001), pinned)).placement)).toHaveLength(1);
    expect(pinOutcome(takeOf(pinned), 13, 0)).toMatchObject({ reason: expect.stringContaining('3.0 s apart') });
  });

  it('go one by one, the last back to what was found; all at once as well', () => {
    const twice = pinnedTwice();
    const [first, second] = anchorsOf(takeOf(twice).placement);
    const once = sessionAfter(unpinOutcome(takeOf(twice), first!.takeSec), twice);
    expect(anchorsOf(takeOf(once).placement)).toHaveLength(1);
    expect(takeOf(sessionAfter(unpinOutcome(takeOf(once), second!.takeSec), once)).placement).toEqual(foundPlacement);
    expect(takeOf(apply(twice, backEdit(takeOf(twice))!)).placement).toEqual(foundPlacement);
  });

  it('move with the take when it is moved by hand, and keep its clock', () => {
    const placement = takeOf(pinnedTwice()).placement!;
    const moved = movedByHand(placement, 480, 5);
    expect(anchorsOf(moved).map((one) => one.atSec)).toEqual([
      expect.closeTo(10 + moved.offsetSec - placement.offsetSec, 9),
      expect.closeTo(60 + moved.offsetSec - placement.offsetSec, 9),
    ]);
    expect(moved.driftPpm).toBe(placement.driftPpm);
    expect(moved.found).toEqual(placement.found);
    expect(moved.evidence.filter((one) => one.kind === 'user')).toHaveLength(3);
  });

  it('say where sound is missing: at the playback line between them, else half way', () => {
    const twice = pinnedTwice();
    const [, second] = anchorsOf(takeOf(twice).placement);
    const at = (outcome: PinOutcome): number => takeOf(sessionAfter(outcome, twice)).placement!.bends![0]!.takeSec;
    expect(at(jumpOutcome(takeOf(twice), second!.takeSec, true, 30))).toBe(30);
    expect(at(jumpOutcome(takeOf(twice), second!.takeSec, true, 300))).toBeCloseTo(34, 1);
    const jumped = sessionAfter(jumpOutcome(takeOf(twice), second!.takeSec, true, 30), twice);
    expect(takeOf(jumped).placement!.bends![0]!.jumpSec).toBeCloseTo(0.002, 6);
    const back = sessionAfter(jumpOutcome(takeOf(jumped), second!.takeSec, false, null), jumped);
    expect(takeOf(back).placement!.bends).toBeUndefined();
  });

  it('can stand alone, without the changes that were found', () => {
    const placement = inventedPlacement(1, foundPlacement, 100, true);
    const take = { ...takeOf(session), placement };
    const alone = takeOf(sessionAfter(aloneOutcome(take, true), { ...session, takes: [take] })).placement!;
    expect(placement.bends!.some((one) => one.jumpSec > 0.019)).toBe(true);
    expect(alone.bends!.every((one) => one.jumpSec === 0)).toBe(true);
  });
});

describe('a take that may not stay in its place', () => {
  it('is accepted as it is, and can go back to being asked about', () => {
    const placement: Placement = { ...foundPlacement, residualSec: 0.014, warning: 'It may lie off at its end.' };
    const take = { ...takeOf(session), placement };
    const accepted = takeOf(apply({ ...session, takes: [take] }, acceptEdit(take)!));
    expect(accepted.placement!.warning).toBeUndefined();
    expect(accepted.placement).toMatchObject({ by: 'user', offsetSec: 1, residualSec: 0.014 });
    expect(acceptEdit(accepted)).toBeUndefined();
    expect(takeOf(apply({ ...session, takes: [accepted] }, backEdit(accepted)!)).placement).toEqual(placement);
  });

  it('is told in numbers and in words', () => {
    expect(residualWords({ ...foundPlacement, residualSec: 0.0143 })).toBe('14 ms');
    expect(residualWords({ ...foundPlacement, residualSec: 0.0091 })).toBe('9.1 ms');
    expect(residualWords(foundPlacement)).toBe('–');
    const bends = [{ takeSec: 99, jumpSec: 0.02, driftPpm: 0 }];
    expect(bendsWords({ ...foundPlacement, bends })).toEqual(['1:40.0: lost 20 ms']);
    const many = Array.from({ length: 9 }, (_, n) => ({ takeSec: 10 * (n + 1), jumpSec: 0.01, driftPpm: 0 }));
    expect(bendsWords({ ...foundPlacement, bends: many })).toHaveLength(3);
    expect(bendsWords({ ...foundPlacement, bends: many }).at(-1)).toBe('and 7 more changes');
  });
});

describe('the picture of offset over time', () => {
  const placement = inventedPlacement(1, foundPlacement, 300, false);
  const box = { left: 90, right: 690, top: 20, bottom: 180 };

  it('lays each moment at its time and its milliseconds, and marks what lies beyond', () => {
    const curve = offsetCurve(placement, 300, 'place');
    const { points, x, y } = layOffsets(curve, { lowMs: -1, highMs: 1 }, null, box);
    expect(x(curve.fromSec)).toBe(90);
    expect(x(curve.toSec)).toBe(690);
    expect(y(0)).toBe(100);
    for (const { point, beyond } of points) expect(Math.abs(point.offMs) > 1).toBe(beyond !== 0);
  });

  it('is told in a sentence to who does not see it', () => {
    const words = curveWords(offsetCurve(placement, 300, 'place'));
    expect(words).toMatch(/^\d+ moments from 0:01 to 5:01/);
    expect(words).toContain('lost 20 ms at 2:16.0');
    expect(words).toContain('within 3.1 ms of its place');
    expect(msWords(-10, 'place')).toBe('10 ms earlier');
    expect(msWords(0, 'even')).toBe('even clock');
  });

  it('goes closer and wider', () => {
    const curve = offsetCurve(placement, 300, 'place');
    expect(msRange(curve, 'place', 1).highMs).toBeLessThan(msRange(curve, 'place', 0).highMs);
    expect(msRange(curve, 'place', -1).highMs).toBeGreaterThan(msRange(curve, 'place', 0).highMs);
  });
});
