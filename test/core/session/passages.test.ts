import { describe, expect, it } from 'vitest';
import { apply } from '../../../core/session/edit.ts';
import { editLabel } from '../../../core/session/edit-label.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { beginHistory, doEdit, undo } from '../../../core/session/history.ts';
import {
  heardTakes,
  joinsOf,
  soundingTake,
  takeAt,
  withJoinAt,
  withoutJoin,
  withoutTake,
  withStretch,
} from '../../../core/session/passages.ts';
import {
  emptySession,
  formatSession,
  type Passage,
  parseSession,
  type Session,
  type Take,
  type Voice,
} from '../../../core/session/schema.ts';

const voice = (id: string): Voice => ({
  id,
  name: id,
  role: 'inner',
  colour: 0,
  trimDb: 0,
  placeDeg: null,
  muted: false,
  chosenTakeId: null,
  passages: null,
});
const take = (id: string, voiceId: string): Take => ({
  id,
  name: `Take ${id}`,
  voiceId,
  clip: { path: `${id}.wav`, sizeBytes: 1000, fingerprint: 'a'.repeat(64) },
  silence: null,
  clean: { on: true, character: 'even', rule: 'lsa', fine: null },
  placement: null,
  mark: 'none',
  remark: '',
  part: null,
  mend: null,
});
const session: Session = [
  { kind: 'addVoice', voice: voice('v1') } as const,
  { kind: 'addVoice', voice: voice('v2') } as const,
  ...['a', 'b', 'c'].map((id) => ({ kind: 'addTake', take: take(id, 'v1') }) as const),
  { kind: 'addTake', take: take('d', 'v2') } as const,
  { kind: 'chooseTake', voiceId: 'v1', takeId: 'a' } as const,
].reduce(apply, emptySession('Canon'));
const aba: Passage[] = [
  { takeId: 'a', fromSec: 0, toSec: 10 },
  { takeId: 'b', fromSec: 10, toSec: 20 },
  { takeId: 'a', fromSec: 20, toSec: 30 },
];
const made = apply(session, { kind: 'setPassages', voiceId: 'v1', passages: aba });
const passagesOf = (value: Session): unknown => value.voices[0]!.passages;
const ids = (passages: readonly Passage[] | null): string =>
  (passages ?? []).map((one) => `${one.takeId}${one.fromSec}-${one.toSec}`).join(' ');

describe('passages in the session', () => {
  it('are read back as they were written, and undone in one step', () => {
    expect(parseSession(formatSession(made), 's')).toEqual(made);
    const history = doEdit(beginHistory(session), { kind: 'setPassages', voiceId: 'v1', passages: aba });
    expect(undo(history).present).toBe(session);
    expect(editLabel({ kind: 'setPassages', voiceId: 'v1', passages: aba }, session)).toBe('passages of v1');
  });

  it('are none in a session of version 3, whose takes have neither mark nor remark', () => {
    const old = JSON.parse(formatSession(session)) as { version: number; voices: object[]; takes: object[] };
    old.version = 3;
    for (const one of [...old.voices, ...old.takes] as Record<string, unknown>[]) {
      for (const field of ['passages', 'mark', 'remark']) delete one[field];
    }
    expect(parseSession(JSON.stringify(old), 's')).toEqual(session);
  });

  it('are refused with a gap, with a take of another voice, and with one take twice in a row', () => {
    const set = (passages: Passage[]) => () => apply(session, { kind: 'setPassages', voiceId: 'v1', passages });
    expect(set([aba[0]!, aba[2]!])).toThrow(RangeError);
    expect(set([aba[0]!, { ...aba[1]!, takeId: 'd' }])).toThrow(/no take of the voice/);
    expect(set([aba[0]!, { ...aba[1]!, takeId: 'a' }])).toThrow(/same take/);
    const broken = { ...made, voices: [{ ...made.voices[0]!, passages: [aba[0]!, aba[2]!] }, made.voices[1]!] };
    expect(() => parseSession(JSON.stringify(broken), 's')).toThrow(/voices\.0\.passages/);
  });

  it('go when one take is chosen alone, and a removed take leaves its stretch to its neighbours', () => {
    expect(passagesOf(apply(made, { kind: 'chooseTake', voiceId: 'v1', takeId: 'b' }))).toBeNull();
    expect(apply(made, { kind: 'removeTake', takeId: 'b' }).voices[0]).toMatchObject({
      chosenTakeId: 'a',
      passages: null,
    });
    const moved = apply(made, { kind: 'moveTake', takeId: 'a', voiceId: 'v2' });
    expect(moved.voices[0]).toMatchObject({ chosenTakeId: 'b', passages: null });
    expect(parseSession(formatSession(moved), 's')).toEqual(moved);
  });

  it('tell which takes are heard: the chosen one is the main one, and none is heard twice', () => {
    const own = made.voices[0]!;
    expect(soundingTake(made, own)?.id).toBe('a');
    expect(heardTakes(made, own).map((one) => one.id)).toEqual(['a', 'b']);
    expect(soundingTake(made, { ...own, chosenTakeId: null })?.id).toBe('a');
    expect(heardTakes(made, made.voices[1]!).map((one) => one.id)).toEqual(['d']);
    expect([takeAt(aba, -5), takeAt(aba, 10), takeAt(aba, 99)]).toEqual(['a', 'b', 'a']);
  });

  it('keeps a mark and a remark, and checks them at the door', () => {
    const marked = [
      { kind: 'setMark', takeId: 'a', mark: 'best' } as const,
      { kind: 'setRemark', takeId: 'a', remark: 'bar 17 is flat' } as const,
    ].reduce(apply, session);
    expect(marked.takes[0]).toMatchObject({ mark: 'best', remark: 'bar 17 is flat' });
    expect(editSchema.safeParse({ kind: 'setMark', takeId: 'a', mark: 'fine' }).success).toBe(false);
    expect(editSchema.safeParse({ kind: 'setRemark', takeId: 'a' }).success).toBe(false);
    const { mark: _mark, remark: _remark, ...older } = take('e', 'v1');
    expect(editSchema.parse({ kind: 'addTake', take: older })).toEqual({ kind: 'addTake', take: take('e', 'v1') });
  });
});

describe('making passages', () => {
  it('uses a stretch of another take and goes on with the old one after it', () => {
    expect(ids(withStretch(null, 'a', { takeId: 'b', fromSec: 10, toSec: 20 }))).toBe('a0-10 b10-20 a20-21');
    expect(ids(withStretch(aba, 'a', { takeId: 'c', fromSec: 15, toSec: 25 }))).toBe('a0-10 b10-15 c15-25 a25-30');
    expect(ids(withStretch(aba, 'a', { takeId: 'a', fromSec: 5, toSec: 25 }))).toBe('a0-30');
    expect(ids(withStretch(aba, 'a', { takeId: 'b', fromSec: 19, toSec: 40 }))).toBe('a0-10 b10-40 a40-41');
  });

  it('leaves no passage shorter than 0.25 s', () => {
    expect(ids(withStretch(aba, 'a', { takeId: 'c', fromSec: 10.1, toSec: 15 }))).toBe(
      'a0-10.1 c10.1-15 b15-20 a20-30',
    );
  });

  it('moves a join no nearer than 0.25 s to the next, and takes one away', () => {
    expect(ids(withJoinAt(aba, 0, 12))).toBe('a0-12 b12-20 a20-30');
    expect(ids(withJoinAt(aba, 0, 25))).toBe('a0-19.75 b19.75-20 a20-30');
    expect(ids(withJoinAt(aba, 1, 45))).toBe('a0-10 b10-45 a45-46');
    expect(ids(withoutJoin(aba, 0))).toBe('a0-30');
    expect(ids(withoutJoin(aba, 1))).toBe('a0-10 b10-30');
    expect(joinsOf(aba).map((join) => join.atSec)).toEqual([10, 20]);
    expect(withoutTake([aba[0]!], 'a')).toBeNull();
  });
});
