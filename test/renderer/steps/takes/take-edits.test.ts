import { describe, expect, it } from 'vitest';
import { apply } from '../../../../core/session/edit.ts';
import { emptySession, type Session, type Take, type Voice } from '../../../../core/session/schema.ts';
import { soundingTake } from '../../../../renderer/desk/desk-store.ts';
import {
  deleteTakeEdit,
  dropPosition,
  freeColour,
  moveTakeEdit,
  takeToNewVoiceEdit,
} from '../../../../renderer/steps/takes/take-edits.ts';

const voice = (id: string, chosenTakeId: string | null): Voice => ({
  id,
  name: `Voice ${id}`,
  role: 'inner',
  colour: 0,
  trimDb: 0,
  placeDeg: null,
  muted: false,
  chosenTakeId,
  passages: null,
});
const take = (id: string, voiceId: string): Take => ({
  id,
  name: `Take ${id}`,
  voiceId,
  clip: { path: `${id}.m4a`, sizeBytes: 1, fingerprint: 'a'.repeat(64) },
  silence: null,
  clean: { on: true, character: 'even', rule: 'lsa', fine: null },
  mark: 'none',
  remark: '',
  part: null,
  mend: null,
  placement: null,
});
const session: Session = {
  ...emptySession('Round'),
  voices: [voice('a', 'a2'), voice('b', null), voice('c', null)],
  takes: [take('a1', 'a'), take('a2', 'a'), take('a3', 'a'), take('b1', 'b')],
};
const takeOf = (id: string): Take => session.takes.find((one) => one.id === id)!;
const sounds = (after: Session, voiceId: string): string | undefined =>
  soundingTake(after, after.voices.find((one) => one.id === voiceId)!)?.id;

describe('takes on their bench', () => {
  it('lets the first of the others sound when the take that sounded is deleted', () => {
    const after = apply(session, deleteTakeEdit(session, takeOf('a2')));
    expect(after.takes.map((one) => one.id)).toEqual(['a1', 'a3', 'b1']);
    expect(sounds(after, 'a')).toBe('a1');
  });

  it('leaves the choice alone when a take is deleted that did not sound', () => {
    expect(deleteTakeEdit(session, takeOf('a1'))).toEqual({ kind: 'removeTake', takeId: 'a1' });
  });

  it('lets both voices go on sounding when a take is given to another', () => {
    const after = apply(session, moveTakeEdit(session, takeOf('a2'), session.voices[1]!));
    expect(sounds(after, 'a')).toBe('a1');
    expect(sounds(after, 'b')).toBe('b1');
  });

  it('lets an empty voice sound with the take it is given', () => {
    expect(sounds(apply(session, moveTakeEdit(session, takeOf('a1'), session.voices[2]!)), 'c')).toBe('a1');
  });

  it('makes a voice of a take below the voice it comes from, in a colour that is free', () => {
    const after = apply(session, takeToNewVoiceEdit(session, takeOf('a3'), 'd'));
    expect(after.voices.map((one) => one.id)).toEqual(['a', 'd', 'b', 'c']);
    expect(after.voices[1]).toMatchObject({ name: 'Take a3', colour: 1, chosenTakeId: 'a3' });
    expect(sounds(after, 'a')).toBe('a2');
    expect(freeColour(session)).toBe(1);
  });

  it('puts a dragged voice in the place of the one it is dropped on, and leaves it where it would not move', () => {
    const order = ['a', 'b', 'c'];
    expect(dropPosition(order, 'c', 'a')).toBe(0);
    expect(dropPosition(order, 'a', 'c')).toBe(2);
    expect(dropPosition(order, 'a', 'a')).toBeNull();
    expect(dropPosition(order, 'x', 'b')).toBeNull();
  });
});
