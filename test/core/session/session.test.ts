import { describe, expect, it } from 'vitest';
import { apply } from '../../../core/session/edit.ts';
import { beginHistory, doEdit, redo, undo } from '../../../core/session/history.ts';
import {
  emptySession,
  formatSession,
  parseSession,
  type Session,
  type Take,
  type Voice,
} from '../../../core/session/schema.ts';
import type { PartsongError } from '../../../core/signal/fault.ts';

const voice = (id: string): Voice => ({
  id,
  name: `Voice ${id}`,
  role: 'inner',
  colour: 1,
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
  clip: { path: `clips/${id}.m4a`, sizeBytes: 1000, fingerprint: 'a'.repeat(64) },
  silence: null,
  clean: { on: true, character: 'even', rule: 'lsa', fine: null },
  mark: 'none',
  remark: '',
  part: null,
  mend: null,
  placement: null,
});

function filled(): Session {
  return [
    { kind: 'addVoice', voice: voice('v1') } as const,
    { kind: 'addVoice', voice: voice('v2') } as const,
    { kind: 'addTake', take: take('t1', 'v1') } as const,
    { kind: 'addTake', take: take('t2', 'v2') } as const,
    { kind: 'chooseTake', voiceId: 'v1', takeId: 't1' } as const,
  ].reduce(apply, emptySession('Evening canon'));
}

describe('the session document', () => {
  it('is read back as it was written', () => {
    expect(parseSession(formatSession(filled()), 'session.json')).toEqual(filled());
  });

  it('names the path of the first wrong field', () => {
    const broken = { ...filled(), mix: { targetLufs: 'loud', ceilingDbtp: -1 } };
    expect(() => parseSession(JSON.stringify(broken), 'here/session.json')).toThrow(
      /here\/session\.json.*mix\.targetLufs/,
    );
  });

  it('refuses an unknown field, a take without its voice, and a chosen take that is not there', () => {
    expect(() => parseSession(JSON.stringify({ ...filled(), extra: 1 }), 's')).toThrow(/extra/);
    expect(() => parseSession(JSON.stringify({ ...filled(), voices: [voice('v2')] }), 's')).toThrow(
      /takes\.0\.voiceId/,
    );
    const lost = { ...filled(), takes: [take('t2', 'v2')] };
    expect(() => parseSession(JSON.stringify(lost), 's')).toThrow(/chosenTakeId/);
  });

  it('tells a newer format from a damaged file, by code', () => {
    const codeOf = (text: string): string => {
      try {
        parseSession(text, 's');
      } catch (error) {
        return (error as PartsongError).code;
      }
      return 'none';
    };
    expect(codeOf(JSON.stringify({ ...filled(), version: 99 }))).toBe('session-newer');
    expect(codeOf('{"format":')).toBe('session-damaged');
    expect(codeOf('[]')).toBe('session-damaged');
    expect(codeOf('null')).toBe('session-damaged');
  });
});

describe('edits', () => {
  it('leave the session they were applied to as it was', () => {
    const before = filled();
    const text = formatSession(before);
    apply(before, { kind: 'renameVoice', voiceId: 'v1', name: 'Treble viol' });
    apply(before, { kind: 'removeVoice', voiceId: 'v1' });
    expect(formatSession(before)).toBe(text);
  });

  it('removing a voice removes its takes; removing a chosen take leaves its voice without choice', () => {
    expect(apply(filled(), { kind: 'removeVoice', voiceId: 'v1' }).takes.map((one) => one.id)).toEqual(['t2']);
    expect(apply(filled(), { kind: 'removeTake', takeId: 't1' }).voices[0]!.chosenTakeId).toBeNull();
  });

  it('move a voice to any place and stay in range', () => {
    const ids = (session: Session): string[] => session.voices.map((one) => one.id);
    expect(ids(apply(filled(), { kind: 'moveVoice', voiceId: 'v1', to: 1 }))).toEqual(['v2', 'v1']);
    expect(ids(apply(filled(), { kind: 'moveVoice', voiceId: 'v1', to: 99 }))).toEqual(['v2', 'v1']);
    expect(ids(apply(filled(), { kind: 'moveVoice', voiceId: 'v2', to: -3 }))).toEqual(['v2', 'v1']);
  });

  it('refuse an id that is not there and a take of another voice', () => {
    expect(() => apply(filled(), { kind: 'renameVoice', voiceId: 'v9', name: 'x' })).toThrow(RangeError);
    expect(() => apply(filled(), { kind: 'chooseTake', voiceId: 'v1', takeId: 't2' })).toThrow(RangeError);
    expect(() => apply(filled(), { kind: 'addVoice', voice: voice('v1') })).toThrow(RangeError);
  });
});

describe('history', () => {
  it('undo and redo walk through 100 edits and back without loss', () => {
    let history = beginHistory(filled());
    const seen = [history.present];
    for (let step = 0; step < 100; step++) {
      history = doEdit(history, { kind: 'setTrim', voiceId: 'v1', trimDb: step / 10 + 0.1 });
      seen.push(history.present);
    }
    for (let step = 99; step >= 0; step--) {
      history = undo(history);
      expect(history.present).toBe(seen[step]);
    }
    expect(undo(history)).toBe(history);
    for (let step = 1; step <= 100; step++) {
      history = redo(history);
      expect(history.present).toBe(seen[step]);
    }
    expect(redo(history)).toBe(history);
  });

  it('an edit after undo forgets what was undone, and edits made together are one step', () => {
    let history = doEdit(beginHistory(filled()), { kind: 'setTitle', title: 'One' });
    history = doEdit(undo(history), {
      kind: 'together',
      label: 'two names',
      edits: [
        { kind: 'renameVoice', voiceId: 'v1', name: 'A' },
        { kind: 'renameVoice', voiceId: 'v2', name: 'B' },
      ],
    });
    expect(history.future).toEqual([]);
    expect(history.present.voices.map((one) => one.name)).toEqual(['A', 'B']);
    expect(undo(history).present).toEqual(filled());
  });
});
