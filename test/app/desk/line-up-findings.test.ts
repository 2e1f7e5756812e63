import { describe, expect, it } from 'vitest';
import { findingsFor } from '../../../app/desk/line-up-findings.ts';
import { anchorsOf, backToFound, withAnchor } from '../../../core/session/anchors.ts';
import { apply } from '../../../core/session/edit.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { emptySession, type Placement, type Session } from '../../../core/session/schema.ts';
import { aTake, aVoice } from './desk-kit.ts';

const placed = (offsetSec: number, by: 'found' | 'user' = 'found', uncertaintySec = 0.001): Placement => ({
  offsetSec,
  driftPpm: 0,
  uncertaintySec,
  driftUncertaintyPpm: 1,
  confidence: 0.9,
  question: null,
  by,
  evidence: [
    {
      kind: 'clap',
      atSec: offsetSec + 5,
      takeSec: 5,
      offsetSec,
      uncertaintySec,
      weight: 1,
      accepted: true,
      note: '',
    },
  ],
});

const GUIDE = { clip: { path: 'guide.wav', sizeBytes: 1, fingerprint: 'b'.repeat(64) }, plan: null };

const sessionWith = (placements: Readonly<Record<string, Placement | null>>): Session => ({
  ...emptySession('Round'),
  voices: [aVoice('v')],
  takes: Object.entries(placements).map(([id, placement]) => ({ ...aTake(id, 'v'), placement })),
});

/** The offsets after taking over what was found, and that nothing is left to take over then. */
function settled(session: Session, found: Readonly<Record<string, Placement>>): (number | undefined)[] {
  const map = new Map(Object.entries(found));
  const edit = findingsFor(session, map);
  const after = edit === undefined ? session : apply(session, edit);
  expect(findingsFor(after, map)).toBeUndefined();
  return after.takes.map((take) => take.placement?.offsetSec);
}

describe('what the session takes over from the line-up', () => {
  it('is every placement that was found, evidence and all, and nothing twice', () => {
    expect(settled(sessionWith({ a: null, b: null }), { a: placed(0), b: placed(1.5) })).toEqual([0, 1.5]);
  });

  it('follows the earliest take to time zero while nothing holds it', () => {
    const session = sessionWith({ a: placed(0), b: null });
    expect(settled(session, { a: placed(3.1), b: placed(0) })).toEqual([3.1, 0]);
  });

  it('leaves takes placed by hand alone, and keeps their neighbours where they lie when a take is added', () => {
    const session = sessionWith({ a: placed(0.1), b: placed(1.25, 'user'), c: null });
    const found = { a: placed(3.3), b: placed(4.2), c: placed(0) };
    const [a, b, c] = settled(session, found);
    expect([a, b]).toEqual([0.1, 1.25]);
    expect(c).toBeCloseTo(-3.2, 9);
  });

  it('goes by where a take had been found, not by where the hand has laid it since', () => {
    const { evidence: _, by: _by, confidence: _sure, ...found } = placed(1);
    const session = sessionWith({ a: { ...placed(1.25, 'user'), evidence: [], found }, b: null });
    expect(settled(session, { a: placed(4), b: placed(0) })).toEqual([1.25, -3]);
  });

  it('lets a take that was laid by hand lie, and keeps what it can go back to and what was heard along it up to date', () => {
    const heard = { kind: 'onsets', atSec: 20, takeSec: 20, uncertaintySec: 0.002, accepted: true } as const;
    const pinned = withAnchor(placed(1), { takeSec: 5, atSec: 6.3, jumpTakeSec: null });
    if (pinned.kind === 'refused') throw new Error(pinned.reason);
    const session = { ...sessionWith({ a: pinned.value, b: placed(2) }), guide: GUIDE };
    const found = new Map([
      ['a', { ...placed(1.1), trail: [heard] }],
      ['b', placed(2)],
    ]);
    const edit = findingsFor(session, found)!;
    const after = apply(session, edit);
    expect(after.takes[0]!.placement).toMatchObject({ offsetSec: pinned.value.offsetSec, by: 'user', trail: [heard] });
    expect(anchorsOf(after.takes[0]!.placement)).toHaveLength(1);
    expect(backToFound(after.takes[0]!.placement!)).toEqual(found.get('a'));
    expect(findingsFor(after, found)).toBeUndefined();
  });

  it('is found once only where a check has put the fields of what a pinned take can go back to in another order', () => {
    const pinned = withAnchor({ ...placed(1), residualSec: 0.004 }, { takeSec: 5, atSec: 6.3, jumpTakeSec: null });
    if (pinned.kind === 'refused') throw new Error(pinned.reason);
    const session = sessionWith({ a: pinned.value, b: placed(2) });
    const found = new Map([
      ['a', { ...placed(1.2), residualSec: 0.003 }],
      ['b', { ...placed(2.2), residualSec: 0.002 }],
    ]);
    const after = apply(session, editSchema.parse(findingsFor(session, found)));
    expect(after.takes[0]!.placement!.found).toMatchObject({ residualSec: 0.003 });
    expect(findingsFor(after, found)).toBeUndefined();
  });

  it('moves what was heard along a take with it', () => {
    const heard = { kind: 'onsets', atSec: 20, takeSec: 20, uncertaintySec: 0.002, accepted: true } as const;
    const session = sessionWith({ a: placed(1, 'user'), b: null });
    const found = new Map([
      ['a', placed(4)],
      ['b', { ...placed(0), trail: [heard] }],
    ]);
    const after = apply(session, findingsFor(session, found)!);
    expect(after.takes[1]!.placement!.trail).toEqual([{ ...heard, atSec: 17 }]);
  });

  it('keeps the time of a session whose joins lie in it, and of one of whose takes only some are asked for', () => {
    const plain = sessionWith({ a: placed(0), b: placed(2), c: null });
    const found = { a: placed(3), b: placed(5), c: placed(0) };
    expect(settled(plain, found)).toEqual([3, 5, 0]);
    const passages = ['a', 'b'].map((takeId, n) => ({ takeId, fromSec: 4 * n, toSec: 4 * n + 4 }));
    const joined = { ...plain, voices: plain.voices.map((voice) => ({ ...voice, passages })) };
    expect(settled(joined, found)).toEqual([0, 2, -3]);
    const moved = { ...found, b: placed(5.5) };
    const after = apply(plain, findingsFor(plain, new Map(Object.entries(moved)), new Set(['c']))!);
    expect(after.takes.map(({ placement }) => placement!.offsetSec)).toEqual([0, 2, -3]);
  });

  it('keeps the neighbours of a take whose clip is missing where they lie', () => {
    const session = sessionWith({ a: placed(0), b: placed(2) });
    expect(settled(session, { b: placed(0) })).toEqual([0, 2]);
  });

  it('moves nothing by a take of which nobody knows where it lies', () => {
    const session = sessionWith({ a: placed(7, 'found', 10), b: placed(1, 'user'), c: placed(2) });
    expect(settled(session, { a: placed(0, 'found', 10), b: placed(0.9), c: placed(2) })).toEqual([0, 1, 2]);
  });
});
