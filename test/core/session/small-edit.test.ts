import { describe, expect, it } from 'vitest';
import { laidByHand } from '../../../core/session/by-hand.ts';
import { apply, type Edit } from '../../../core/session/edit.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { emptySession, type Placement, type Session } from '../../../core/session/schema.ts';
import { smallerEdit } from '../../../core/session/small-edit.ts';
import { aTake, aVoice } from '../../app/desk/desk-kit.ts';

const trail = Array.from({ length: 400 }, (_, n) => ({
  kind: 'bleed' as const,
  atSec: 1 + n / 3,
  takeSec: n / 3,
  uncertaintySec: 0.0012345678,
  accepted: true,
}));
const found: Placement = {
  offsetSec: 1,
  driftPpm: 3.5,
  uncertaintySec: 0.001,
  driftUncertaintyPpm: 0.4,
  residualSec: 0.004,
  trail,
  warning: 'it may lie off',
  confidence: 0.9,
  question: null,
  by: 'found',
  evidence: [],
};
const session: Session = {
  ...emptySession('Round'),
  voices: [aVoice('v')],
  takes: ['a', 'b'].map((id) => ({ ...aTake(id, 'v'), placement: found })),
};
const laid = (takeId: string, frames: number): Exclude<Edit, { kind: 'together' }> => {
  const { placement } = session.takes.find(({ id }) => id === takeId)!;
  return { kind: 'setPlacement', takeId, placement: laidByHand(placement, frames, 5) };
};

describe('an edit without what it does not change', () => {
  it('leads to the same session, in less than 1 kB where a take with a trail of 400 moments is dragged', () => {
    const edit = laid('a', 52_000);
    const small = smallerEdit(session, edit);
    expect(JSON.stringify(edit).length).toBeGreaterThan(30_000);
    expect(JSON.stringify(small).length).toBeLessThan(1000);
    expect(editSchema.parse(JSON.parse(JSON.stringify(small)))).toEqual(small);
    expect(apply(session, small)).toEqual(apply(session, edit));
    expect(apply(session, small).takes[0]!.placement).not.toHaveProperty('warning');
  });

  it('is the very edit where the trail is new or goes, where nothing was placed, and where it is of something else', () => {
    const { trail: _, ...bare } = found;
    const edits: Edit[] = [
      { kind: 'setPlacement', takeId: 'a', placement: { ...found, trail: trail.slice(1) } },
      { kind: 'setPlacement', takeId: 'a', placement: bare },
      { kind: 'setPlacement', takeId: 'a', placement: null },
      { kind: 'setMuted', voiceId: 'v', muted: true },
    ];
    for (const edit of edits) expect(smallerEdit(session, edit)).toBe(edit);
    const unplaced = { ...session, takes: session.takes.map((take) => ({ ...take, placement: null })) };
    expect(smallerEdit(unplaced, laid('a', 5))).toEqual(laid('a', 5));
  });

  it('tells several takes of one step so, but not one take twice', () => {
    const both: Edit = { kind: 'together', label: 'move', edits: [laid('a', 10), laid('b', 20)] };
    const small = smallerEdit(session, both);
    expect(JSON.stringify(small).length).toBeLessThan(2000);
    expect(apply(session, small)).toEqual(apply(session, both));
    const twice: Edit = { kind: 'together', label: 'move', edits: [laid('a', 10), laid('a', 20)] };
    expect(smallerEdit(session, twice)).toBe(twice);
  });

  it('cannot be for a take that has no placement', () => {
    const unplaced = { ...session, takes: session.takes.map((take) => ({ ...take, placement: null })) };
    expect(() => apply(unplaced, { kind: 'changePlacement', takeId: 'a', changes: {}, gone: [] })).toThrow(RangeError);
  });
});
