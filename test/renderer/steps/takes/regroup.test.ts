import { describe, expect, it } from 'vitest';
import { apply } from '../../../../core/session/edit.ts';
import { emptySession, type Session } from '../../../../core/session/schema.ts';
import { groupNames, groupsOf, regroupEdit } from '../../../../renderer/steps/takes/regroup.ts';

/** A voice for each entry, with takes of these ids; the first is chosen. */
function sessionOf(voices: Readonly<Record<string, readonly string[]>>): Session {
  const empty = emptySession('test');
  return {
    ...empty,
    voices: Object.entries(voices).map(([name, [first]], n) => ({
      id: `voice-${n + 1}`,
      name,
      role: 'inner',
      colour: n,
      trimDb: 0,
      placeDeg: null,
      muted: false,
      chosenTakeId: first ?? null,
      passages: null,
    })),
    takes: Object.values(voices).flatMap((ids, n) =>
      ids.map((id) => ({
        id,
        name: `clip ${id}`,
        voiceId: `voice-${n + 1}`,
        clip: { path: `${id}.mov`, sizeBytes: 1, fingerprint: 'a'.repeat(64) },
        part: null,
        silence: null,
        clean: { on: true, character: 'even', rule: 'lsa', fine: null },
        placement: null,
        mend: null,
        mark: 'none',
        remark: '',
      })),
    ),
  };
}

const shown = (session: Session): string[] =>
  session.voices.map(({ id, name, chosenTakeId }) => {
    const own = session.takes.filter((take) => take.voiceId === id).map((take) => take.id);
    return `${name}: ${own.join(' ')} (${chosenTakeId})`;
  });

const IDS = ['a', 'b', 'c', 'd'];

describe('clips that came in together', () => {
  it('lie as their names told until another rule is used', () => {
    const session = sessionOf({ Horn: ['a', 'c'], Flute: ['b', 'd'] });
    const groups = groupsOf(session, IDS, 'name', 2);
    expect(groups).toEqual([
      { voiceId: 'voice-1', takeIds: ['a', 'c'] },
      { voiceId: 'voice-2', takeIds: ['b', 'd'] },
    ]);
    expect(groupNames(session, groups)).toEqual(['Horn', 'Flute']);
    expect(regroupEdit(session, groups, ['x', 'y'])).toBeUndefined();
  });

  it('by order are takes of one voice in a row; voices that lose theirs go, and undo is one step', () => {
    const session = sessionOf({ 'IMG 1': ['a'], 'IMG 2': ['b'], 'IMG 3': ['c'], 'IMG 4': ['d'] });
    const edit = regroupEdit(session, groupsOf(session, IDS, 'order', 2), ['x', 'y'])!;
    expect(edit.kind).toBe('together');
    expect(shown(apply(session, edit))).toEqual(['IMG 1: a b (a)', 'IMG 3: c d (c)']);
  });

  it('by order go first to the voices of the score that wait, from top to bottom', () => {
    const session = sessionOf({ Flute: [], Viol: [], 'IMG 1': ['a'], 'IMG 2': ['b'], 'IMG 3': ['c'], 'IMG 4': ['d'] });
    const groups = groupsOf(session, IDS, 'order', 2);
    expect(groupNames(session, groups)).toEqual(['Flute', 'Viol']);
    expect(shown(apply(session, regroupEdit(session, groups, ['x', 'y'])!))).toEqual([
      'Flute: a b (a)',
      'Viol: c d (c)',
    ]);
  });

  it('by order make voices of their own where more come than wait, none of them twice', () => {
    const session = sessionOf({ Flute: [], 'IMG 1': ['a', 'b', 'c', 'd'] });
    const groups = groupsOf(session, IDS, 'order', 1);
    expect(groupNames(session, groups)).toEqual(['Flute', 'IMG 1', 'clip c', 'clip d']);
    expect(shown(apply(session, regroupEdit(session, groups, ['w', 'x', 'y', 'z'])!))).toEqual([
      'Flute: a (a)',
      'IMG 1: b (b)',
      'clip c: c (c)',
      'clip d: d (d)',
    ]);
  });

  it('by hand go where the user says, to a voice that is there or to one of their own, the rest staying', () => {
    const session = sessionOf({ Flute: [], 'IMG 1': ['a'], 'IMG 2': ['b'], Horn: ['c', 'd'] });
    const groups = groupsOf(session, IDS, 'hand', 2, { a: 'voice-1', b: 'voice-1', d: null });
    expect(shown(apply(session, regroupEdit(session, groups, ['w', 'x', 'y'])!))).toEqual([
      'Flute: a b (a)',
      'Horn: c (c)',
      'clip d: d (d)',
    ]);
  });

  it('by hand change nothing where each take is left as it is', () => {
    const session = sessionOf({ Horn: ['a', 'c'], Flute: ['b', 'd'] });
    expect(regroupEdit(session, groupsOf(session, IDS, 'hand', 2), ['x', 'y'])).toBeUndefined();
  });

  it('each get a voice of their own, named after the clip where a voice was shared', () => {
    const session = sessionOf({ Horn: ['a', 'b', 'c', 'd'], Old: ['z'] });
    const edit = regroupEdit(session, groupsOf(session, IDS, 'clip', 2), ['v1', 'v2', 'v3', 'v4'])!;
    expect(shown(apply(session, edit))).toEqual([
      'Horn: a (a)',
      'Old: z (z)',
      'clip b: b (b)',
      'clip c: c (c)',
      'clip d: d (d)',
    ]);
  });

  it('lets a voice that loses its chosen take sound with its first', () => {
    const session = sessionOf({ Horn: ['b', 'a'], Flute: ['c', 'd'] });
    const groups = [['a'], ['b', 'c', 'd']].map((takeIds) => ({ voiceId: null, takeIds }));
    const edit = regroupEdit(session, groups, ['x', 'y'])!;
    const after = apply(session, edit);
    expect(shown(after)).toEqual(['Horn: a (a)', 'clip b: b c d (b)']);
  });
});
