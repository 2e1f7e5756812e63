import { describe, expect, it } from 'vitest';
import { apply } from '../../../core/session/edit.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { emptySession, type Placement, type Session, type Take } from '../../../core/session/schema.ts';
import { partEdit, splitEdit } from '../../../core/session/split-take.ts';
import { clockFrom, clockOfClip, stretchOfClip, withPart } from '../../../core/session/take-part.ts';
import { sessionPictures } from '../../../core/session/voice-pictures.ts';
import { sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';
import { Random } from '../../../core/signal/random.ts';

const PLACED: Placement = {
  offsetSec: -3.25,
  driftPpm: 40,
  bends: [
    { takeSec: 20, jumpSec: 0.02, driftPpm: -30 },
    { takeSec: 70, jumpSec: 0, driftPpm: 12 },
  ],
  uncertaintySec: 0.001,
  driftUncertaintyPpm: 3,
  confidence: 0.9,
  question: null,
  by: 'user',
  evidence: [],
};

const WHOLE: Take = {
  id: 'take-1',
  name: 'horn',
  voiceId: 'voice-1',
  clip: { path: 'horn.mov', sizeBytes: 1, fingerprint: 'a'.repeat(64) },
  part: null,
  silence: { fromSec: 31, toSec: 34 },
  clean: { on: true, character: 'firm', rule: 'lsa', fine: null },
  placement: PLACED,
  mend: { cents: 4, curve: [{ atSec: 40, cents: 3 }], nudges: [{ fromSec: 50, toSec: 51, byMs: 10 }] },
  mark: 'good',
  remark: 'the first evening',
};

function sessionOf(take: Take): Session {
  const voice = {
    id: 'voice-1',
    name: 'Horn',
    role: 'inner' as const,
    colour: 0,
    trimDb: 0,
    placeDeg: null,
    muted: false,
    chosenTakeId: null,
    passages: null,
  };
  return { ...emptySession('test'), voices: [voice], takes: [take] };
}

describe('a take that is a part of its clip', () => {
  it('sounds where it sounded: 200 moments of the clip lie at the same session time within 1 ns, whatever its part', () => {
    const random = new Random(3);
    for (let n = 0; n < 200; n++) {
      const fromSec = 60 * random.uniform();
      const clipSec = fromSec + 40 * random.uniform();
      const part = withPart(WHOLE, { fromSec, toSec: 110 });
      expect(sessionSecOf(part.placement!, clipSec - fromSec)).toBeCloseTo(sessionSecOf(PLACED, clipSec), 9);
    }
  });

  it('keeps the stretches and moments told in its own time where they were in the clip, there and back', () => {
    const part = withPart(WHOLE, { fromSec: 10, toSec: 90 });
    expect(part.silence).toEqual({ fromSec: 21, toSec: 24 });
    expect(part.mend).toMatchObject({ curve: [{ atSec: 30 }], nudges: [{ fromSec: 40, toSec: 41 }] });
    expect(withPart(part, null)).toMatchObject({ silence: WHOLE.silence, mend: WHOLE.mend });
    expect(withPart(part, null).placement!.offsetSec).toBeCloseTo(PLACED.offsetSec, 9);
  });

  it('shows the picture of its clip at the very moment that is heard, within 1 ns, over bends too', () => {
    const fromSec = 12.5;
    const session = apply(sessionOf(WHOLE), { kind: 'setPart', takeId: 'take-1', part: { fromSec, toSec: 100 } });
    const placement = session.takes[0]!.placement!;
    const span = { fromSec: 0, toSec: 90 };
    const [voice] = sessionPictures(
      { ...session, takes: [{ ...session.takes[0]!, mend: null }] },
      span,
      () => null,
    ).voices;
    for (let sessionSec = 10; sessionSec < 90; sessionSec += 0.37) {
      const heardInClip = fromSec + takeSecOf(placement, sessionSec);
      expect(takeSecOf(voice!.pieces[0]!.place, sessionSec)).toBeCloseTo(heardInClip, 9);
    }
  });

  it('gives its clip the clock that it has, for a part that begins in a clock that bends', () => {
    const clock = clockFrom(PLACED, 30);
    expect(clock.driftPpm).toBe(-30);
    expect(clock.bends).toHaveLength(1);
    expect(sessionSecOf(clockOfClip(clock, { fromSec: 30, toSec: 90 }), 55)).toBeCloseTo(sessionSecOf(PLACED, 55), 9);
  });
});

describe('making several takes of a clip', () => {
  const parts = [
    { fromSec: 0, toSec: 12, isBrokenOff: true },
    { fromSec: 12, toSec: 60 },
    { fromSec: 60, toSec: 110 },
  ];

  it('is one step: the take becomes the first whole part and stays chosen, the broken attempt is marked as not wanted', () => {
    const edit = editSchema.parse(splitEdit(sessionOf(WHOLE), WHOLE, parts, ['take-2', 'take-3']));
    const { takes, voices } = apply(sessionOf(WHOLE), edit);
    expect(takes.map(({ id, name, mark, part }) => [id, name, mark, part?.fromSec])).toEqual([
      ['take-1', 'horn, 2', 'good', 12],
      ['take-2', 'horn, 1', 'no', 0],
      ['take-3', 'horn, 3', 'none', 60],
    ]);
    expect(takes[2]).toMatchObject({ placement: null, silence: null, mend: null, remark: '', clean: WHOLE.clean });
    expect(voices[0]!.chosenTakeId).toBe('take-1');
  });

  it('refuses fewer than two parts', () => {
    expect(() => splitEdit(sessionOf(WHOLE), WHOLE, parts.slice(1, 2), [])).toThrow(RangeError);
  });
});

describe('a stretch made a take of its own', () => {
  it('lies in the clip where it was selected, also beyond the part that the take is, and is named after it', () => {
    const take = withPart(
      { ...WHOLE, placement: { ...PLACED, bends: undefined, driftPpm: 0 } },
      { fromSec: 10, toSec: 50 },
    );
    const part = stretchOfClip(take, { fromSec: 50, toSec: 70 }, 110)!;
    expect(part.fromSec).toBeCloseTo(53.25, 9);
    expect(part.toSec).toBeCloseTo(73.25, 9);
    expect(stretchOfClip(take, { fromSec: 104, toSec: 130 }, 110)).toMatchObject({ toSec: 110 });
    expect(stretchOfClip(take, { fromSec: 106, toSec: 130 }, 110)).toBeNull();
    const { takes, voices } = apply(sessionOf(take), partEdit(sessionOf(take), take, part, 'take-9'));
    expect(takes.map(({ name }) => name)).toEqual(['horn', 'horn, 2']);
    expect(voices[0]!.chosenTakeId).toBe('take-1');
  });
});
