import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Anchor, type Laid, layByAnchors } from '../../../core/session/anchored-clock.ts';
import {
  anchorsMoved,
  anchorsOf,
  backToFound,
  foundOf,
  withAnchor,
  withAnchorsAlone,
  withJump,
  withoutAnchor,
} from '../../../core/session/anchors.ts';
import { apply } from '../../../core/session/edit.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { beginHistory, doEdit, undo } from '../../../core/session/history.ts';
import {
  emptySession,
  formatSession,
  type Placement,
  parseSession,
  type Session,
} from '../../../core/session/schema.ts';
import { type Clock, driftPpmAt, sessionSecOf } from '../../../core/signal/clock.ts';

const found: Placement = {
  offsetSec: 1,
  driftPpm: 20,
  uncertaintySec: 0.004,
  driftUncertaintyPpm: 10,
  residualSec: 0.012,
  warning: 'Around 3:10 it may lie 12 ms off.',
  trail: [{ kind: 'onsets', atSec: 21, takeSec: 20, uncertaintySec: 0.003, accepted: true }],
  confidence: 0.6,
  question: 'Does it belong there?',
  by: 'found',
  evidence: [
    {
      kind: 'clap',
      atSec: 5,
      takeSec: 4.00008,
      offsetSec: 1,
      uncertaintySec: 0.004,
      weight: 1,
      accepted: true,
      note: 'A clap.',
    },
  ],
};
const jumpy: Placement = { ...found, bends: [{ takeSec: 100, jumpSec: 0.02, driftPpm: 50 }] };

const anchor = (takeSec: number, atSec: number, jumpTakeSec: number | null = null): Anchor => ({
  takeSec,
  atSec,
  jumpTakeSec,
});

function laid<Value>(one: Laid<Value>): Value {
  if (one.kind === 'refused') throw new Error(one.reason);
  return one.value;
}

function pinned(placement: Placement | null, ...anchors: Anchor[]): Placement {
  let now = placement;
  for (const one of anchors) now = laid(withAnchor(now, one));
  return now!;
}

describe('one anchor', () => {
  it('moves the whole and keeps the drift and the bends that were found', () => {
    const after = pinned(jumpy, anchor(10, 11.5));
    expect(sessionSecOf(after, 10)).toBeCloseTo(11.5, 12);
    expect(after.driftPpm).toBeCloseTo(20, 9);
    expect(after.bends).toEqual([{ takeSec: 100, jumpSec: expect.closeTo(0.02, 12), driftPpm: expect.closeTo(50, 9) }]);
    expect(after).toMatchObject({ by: 'user', question: null, uncertaintySec: 0.001 });
  });

  it('makes a place of a take that had none', () => {
    expect(pinned(null, anchor(10, 12))).toMatchObject({ offsetSec: 2, driftPpm: 0, by: 'user' });
  });
});

describe('two anchors', () => {
  it('give the drift of 600 s within 1 ppm, both exact to the sample', () => {
    const truth: Clock = { offsetSec: -2.7312345, driftPpm: 87.3 };
    const rounded = (sec: number): number => Math.round(sec * 48000) / 48000;
    const after = pinned(
      found,
      anchor(rounded(12.34567), rounded(sessionSecOf(truth, 12.34567))),
      anchor(rounded(612.34567), rounded(sessionSecOf(truth, 612.34567))),
    );
    // Four roundings of at most half a sample in 600 s are 0.07 ppm.
    expect(Math.abs(after.driftPpm - truth.driftPpm)).toBeLessThan(0.07);
    expect(Math.abs(sessionSecOf(after, 300) - sessionSecOf(truth, 300))).toBeLessThan(2 / 48000);
    expect(after.bends).toBeUndefined();
  });

  it('are refused nearer than 5 s, and where the clock would be off by more than 2000 ppm, with a sentence', () => {
    const one = pinned(found, anchor(10, 11));
    const near = withAnchor(one, anchor(12, 13));
    expect(near).toMatchObject({ kind: 'refused', reason: expect.stringContaining('only 2.0 s apart') });
    const steep = withAnchor(one, anchor(20, 21.03));
    expect(steep).toMatchObject({ kind: 'refused', reason: expect.stringContaining('2991 ppm slow') });
  });

  it('let an anchor stand in for another nearer than 5 s', () => {
    const after = laid(withAnchor(pinned(found, anchor(10, 11)), anchor(10.001, 11.1), 10));
    expect(anchorsOf(after)).toEqual([anchor(10.001, 11.1)]);
  });

  it('keep the bends that were found between and beside them, or put them aside by choice', () => {
    const kept = pinned(jumpy, anchor(10, sessionSecOf(jumpy, 10)), anchor(200, sessionSecOf(jumpy, 200)));
    expect(kept.bends).toEqual([{ takeSec: 100, jumpSec: expect.closeTo(0.02, 9), driftPpm: expect.closeTo(50, 6) }]);
    const alone = laid(withAnchorsAlone(kept, true));
    expect(alone.bends).toBeUndefined();
    expect(sessionSecOf(alone, 200)).toBeCloseTo(sessionSecOf(jumpy, 200), 9);
    expect(laid(withAnchorsAlone(alone, false)).bends).toHaveLength(1);
  });
});

describe('three anchors and more', () => {
  it('bend the clock at the inner one without a jump', () => {
    const after = pinned(found, anchor(10, 11), anchor(110, 111.002), anchor(210, 211.012));
    expect(after.bends).toHaveLength(1);
    expect(after.bends![0]).toMatchObject({ takeSec: 110, jumpSec: 0 });
    expect(driftPpmAt(after, 50)).toBeCloseTo(-20, 1);
    expect(driftPpmAt(after, 150)).toBeCloseTo(-100, 1);
  });

  it('jump where sound is missing, and keep on both sides the drift of that side', () => {
    const three = pinned(found, anchor(10, 11), anchor(60, 61.001), anchor(160, 161.023));
    const after = laid(withJump(three, 160, 100));
    expect(after.bends).toHaveLength(1);
    const [bend] = after.bends!;
    expect(bend!.takeSec).toBe(100);
    // The first two give -20 ppm, which goes on: 2 ms of the 22 are drift.
    expect(bend!.jumpSec).toBeCloseTo(0.02, 6);
    expect(bend!.driftPpm).toBeCloseTo(-20, 1);
    expect(sessionSecOf(after, 160)).toBeCloseTo(161.023, 9);
    expect(laid(withJump(after, 160, null)).bends![0]).toMatchObject({ takeSec: 60, jumpSec: 0 });
  });

  it('refuse a jump outside of its anchors, or of more than 5 s', () => {
    const two = pinned(found, anchor(10, 11), anchor(160, 161));
    // Put before the first anchor it belongs to no pair.
    expect(laid(withJump(two, 160, 5)).bends).toBeUndefined();
    expect(layByAnchors(found, [anchor(10, 11), anchor(160, 161, 5)]).kind).toBe('refused');
    expect(layByAnchors(found, [anchor(10, 11), anchor(160, 170, 100)])).toMatchObject({
      kind: 'refused',
      reason: expect.stringContaining('missing'),
    });
  });

  it('leave a jump with the two anchors it lies between when another is set or taken away', () => {
    const two = laid(withJump(pinned(found, anchor(10, 11), anchor(160, 161.02)), 160, 40));
    const three = pinned(two, anchor(80, 81.02));
    expect(anchorsOf(three).map((one) => one.jumpTakeSec)).toEqual([null, 40, null]);
    expect(anchorsOf(laid(withoutAnchor(three, 10))!).map((one) => one.jumpTakeSec)).toEqual([null, null]);
  });

  it('go through every anchor within 1 ns, whatever was found before (fast-check, 300 runs)', () => {
    const drift = fc.double({ min: -300, max: 300, noNaN: true });
    const bends = fc
      .uniqueArray(
        fc.tuple(fc.integer({ min: 1, max: 900 }), fc.double({ min: -0.05, max: 0.05, noNaN: true }), drift),
        {
          maxLength: 3,
          selector: ([at]) => at,
        },
      )
      .map((all) =>
        all.sort((a, b) => a[0] - b[0]).map(([takeSec, jumpSec, driftPpm]) => ({ takeSec, jumpSec, driftPpm })),
      );
    const moves = fc.array(fc.double({ min: -0.003, max: 0.003, noNaN: true }), { minLength: 1, maxLength: 8 });
    fc.assert(
      fc.property(drift, bends, moves, fc.boolean(), (driftPpm, all, by, hasJump) => {
        const base: Clock = { offsetSec: -3.3, driftPpm, bends: all };
        const anchors = by.map((sec, n) =>
          anchor(7 + 40 * n, sessionSecOf(base, 7 + 40 * n) + sec, hasJump && n === 2 ? 70 : null),
        );
        const clock = laid(layByAnchors(base, anchors));
        for (const one of anchors) expect(Math.abs(sessionSecOf(clock, one.takeSec) - one.atSec)).toBeLessThan(1e-9);
      }),
      { numRuns: 300, seed: 5 },
    );
  });
});

describe('going back', () => {
  it('is to what was found when the last anchor is taken away, its question with it', () => {
    const two = pinned(jumpy, anchor(10, 11), anchor(160, 161));
    const one = laid(withoutAnchor(two, 160))!;
    expect(anchorsOf(one)).toHaveLength(1);
    expect(laid(withoutAnchor(one, 10))).toEqual(jumpy);
    expect(backToFound(two)).toEqual(jumpy);
  });

  it('is to no place where nothing was found, and by its evidence in a session that does not tell', () => {
    expect(laid(withoutAnchor(pinned(null, anchor(10, 12)), 10))).toBeNull();
    expect(foundOf({ ...found, offsetSec: 1.5, by: 'user' })!.offsetSec).toBeCloseTo(1, 9);
  });

  it('moves the anchors with a take that is moved as a whole', () => {
    const one = pinned(found, anchor(10, 11));
    const moved = { ...one, offsetSec: one.offsetSec + 0.25, evidence: anchorsMoved(one.evidence, 0.25) };
    expect(anchorsOf(moved)).toEqual([anchor(10, 11.25)]);
    expect(moved.evidence[0]).toEqual(found.evidence[0]);
  });
});

describe('anchors in a session', () => {
  it('are an edit that is checked, undone, and read again from the file as it was', () => {
    const before: Session = {
      ...emptySession('Pins'),
      voices: [
        {
          id: 'v',
          name: 'Viol',
          role: 'inner',
          colour: 0,
          trimDb: 0,
          placeDeg: null,
          muted: false,
          chosenTakeId: 't',
          passages: null,
        },
      ],
      takes: [
        {
          id: 't',
          name: 'Take',
          voiceId: 'v',
          clip: { path: 'a.wav', sizeBytes: 1, fingerprint: 'a'.repeat(64) },
          part: null,
          silence: null,
          clean: { on: true, character: 'even', rule: 'lsa', fine: null },
          placement: jumpy,
          mend: null,
          mark: 'none',
          remark: '',
        },
      ],
    };
    const placement = laid(withAnchorsAlone(pinned(jumpy, anchor(10, 11), anchor(160, 161.02)), true));
    const edit = editSchema.parse({ kind: 'setPlacement', takeId: 't', placement });
    const history = doEdit(beginHistory(before), edit);
    expect(parseSession(formatSession(history.present), 'session.json')).toEqual(apply(before, edit));
    expect(undo(history).present).toEqual(before);
  });
});
