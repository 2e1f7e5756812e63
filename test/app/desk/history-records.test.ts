import { readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  amendLine,
  doLine,
  headLine,
  moveLine,
  type ReadHistory,
  readHistory,
  savedLine,
  wholeLines,
} from '../../../app/desk/history-records.ts';
import { laidByHand } from '../../../core/session/by-hand.ts';
import type { Edit } from '../../../core/session/edit.ts';
import { amend, beginHistory, doEdit, type History, redo, undo } from '../../../core/session/history.ts';
import { emptySession, formatSession, type Placement } from '../../../core/session/schema.ts';
import { aTake, aVoice, beginDesk, cleanFolders, freshFolder, openDesk } from './desk-kit.ts';

cleanFolders();

const editOf = (n: number): Edit => {
  const voiceId = n % 2 === 0 ? 'v1' : 'v2';
  if (n % 5 === 0) return { kind: 'setMuted', voiceId, muted: n % 3 === 0 };
  if (n % 5 === 1) return { kind: 'renameVoice', voiceId, name: `Voice ${n}` };
  return { kind: 'setTrim', voiceId, trimDb: n / 10 };
};

/** One move: 0 to 5 an edit, with a key or without or apart; 6 undo; 7 redo; 8 a finding. */
const moves = fc.array(fc.record({ what: fc.integer({ min: 0, max: 8 }), n: fc.integer({ min: 0, max: 40 }) }), {
  maxLength: 60,
});

function played(begin: History, made: readonly { what: number; n: number }[]): { history: History; lines: string[] } {
  let history = begin;
  const lines = [headLine(begin.present, null)];
  for (const { what, n } of made) {
    const edit = editOf(n);
    const key = what < 4 ? `key ${n % 2}` : undefined;
    const apart = what === 0;
    const [next, line] =
      what === 6
        ? [undo(history), moveLine('undo')]
        : what === 7
          ? [redo(history), moveLine('redo')]
          : what === 8
            ? [amend(history, edit), amendLine(edit)]
            : [doEdit(history, edit, key, apart), doLine(edit, key, apart)];
    if (next !== history) lines.push(line);
    history = next;
  }
  return { history, lines };
}

const historyOf = (folder: string): History =>
  readHistory(readFileSync(join(folder, 'history.jsonl')), folder)!.history;

const read = (lines: readonly string[]): ReadHistory => {
  const found = readHistory(Buffer.from(lines.join('')), 'history.jsonl');
  expect(found?.end).toBe('whole');
  return found!;
};

const begin = (): History =>
  beginHistory({ ...emptySession('Evening canon'), voices: [aVoice('v1'), aVoice('v2')], takes: [aTake('t1', 'v1')] });

describe('a history on the disk', () => {
  it('is read as it was lived, line by line and written anew as a whole', () => {
    fc.assert(
      fc.property(moves, moves, (first, second) => {
        const one = played(begin(), first);
        expect(read(one.lines).history).toEqual(one.history);
        const whole = wholeLines(one.history, null, isDeepStrictEqual);
        const again = read(whole).history;
        expect(again).toEqual(one.history);
        // Whatever comes after goes on as if nothing had been written anew.
        const two = played(one.history, second);
        expect(read([...whole, ...two.lines.slice(1)]).history).toEqual(two.history);
      }),
      { seed: 11, numRuns: 300 },
    );
  });

  it('knows at which point a session was saved, and how many changes followed', () => {
    const { history, lines } = played(begin(), [
      { what: 5, n: 1 },
      { what: 5, n: 2 },
    ]);
    const more = [...lines, savedLine('a'.repeat(64)), moveLine('undo'), doLine(editOf(3), undefined, false)];
    const point = read(more).saved.get('a'.repeat(64))!;
    expect(point.session).toEqual(history.present);
    expect(point.changesSince).toBe(2);
  });

  it('ends before a move that cannot be', () => {
    const { lines, history } = played(begin(), [{ what: 5, n: 1 }]);
    for (const bad of ['{"undo":2}\n', '{"redo":1}\n', '{"do":{"kind":"setTrim"}}\n', '{"undo":1,"redo":1}\n', 'x\n']) {
      const found = readHistory(Buffer.from([...lines, bad, moveLine('undo')].join('')), 'h');
      expect(found?.end).toBe('damaged');
      expect(found?.history).toEqual(history);
    }
  });
});

describe('a long history', () => {
  it('of 5000 steps of 24 voices is opened in less than 1 s, and loses no step when it is written anew', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    for (let n = 0; n < 24; n++) {
      desk.apply({ kind: 'addVoice', voice: aVoice(`v${n}`) });
      desk.apply({ kind: 'addTake', take: aTake(`t${n}`, `v${n}`) });
    }
    for (let n = 48; n < 5000; n++) desk.apply({ kind: 'setTrim', voiceId: `v${n % 24}`, trimDb: (n % 100) / 10 });
    await desk.save();
    const path = join(folder, 'history.jsonl');
    const before = statSync(path).size;
    // A fader on its way for minutes: 13,000 edits that are one step.
    for (let n = 0; n < 13_000; n++) desk.apply({ kind: 'setTrim', voiceId: 'v1', trimDb: (n % 200) / 10 }, 'fader');
    const { session } = desk;
    await desk.close();
    expect(statSync(path).size).toBeLessThan(before + 2000);
    const begun = performance.now();
    const again = await openDesk(folder);
    const tookMs = performance.now() - begun;
    expect(again.recovered).toBeNull();
    expect(formatSession(again.session)).toBe(formatSession(session));
    let steps = 0;
    while (again.undo()) steps++;
    expect(steps).toBe(5001);
    expect(again.session.voices).toEqual([]);
    await again.close();
    expect(tookMs).toBeLessThan(1000);
  });
});

describe('a take with a long trail that is dragged', () => {
  it('costs less than 1.5 kB a move in the history, and undo, redo and reopening find what they found', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    const trail = Array.from({ length: 400 }, (_, n) => ({
      ...{ kind: 'bleed' as const, atSec: 1 + n / 3, takeSec: n / 3 },
      ...{ uncertaintySec: 0.0012345678, accepted: true },
    }));
    const placement: Placement = {
      ...{ offsetSec: 1, driftPpm: 0, uncertaintySec: 0.001, driftUncertaintyPpm: 1, residualSec: 0.004 },
      ...{ trail, confidence: 1, question: 'Is it here?', by: 'found', evidence: [] },
    };
    desk.apply({ kind: 'addVoice', voice: aVoice('v') });
    desk.apply({ kind: 'addTake', take: aTake('t', 'v') });
    desk.amend({ kind: 'setPlacement', takeId: 't', placement });
    await desk.save();
    const sizeOf = (): number => statSync(join(folder, 'history.jsonl')).size;
    const before = sizeOf();
    const begun = desk.session;
    for (let n = 1; n <= 50; n++) {
      const moved = laidByHand(desk.session.takes[0]!.placement, 48_000 + 48 * n, 5);
      desk.apply({ kind: 'setPlacement', takeId: 't', placement: moved }, 'move t 1');
    }
    await desk.save();
    expect((sizeOf() - before) / 50).toBeLessThan(1500);
    const dragged = desk.session;
    expect(dragged.takes[0]!.placement).toMatchObject({ offsetSec: 1.05, by: 'user', trail });
    await desk.close();
    const again = await openDesk(folder);
    expect(again.session).toEqual(dragged);
    expect(again.undo()).toBe(true);
    expect(again.session).toEqual(begun);
    expect(again.redo()).toBe(true);
    expect(again.session).toEqual(dragged);
    await again.close();
    // Written anew, as it is when most of its lines are of no use any more, it leads there too.
    const lines = wholeLines(historyOf(folder), null, isDeepStrictEqual);
    expect(lines.join('').length).toBeLessThan(60_000);
    const { history } = read(lines);
    expect(history.present).toEqual(dragged);
    expect(undo(history).present).toEqual(begun);
  });
});
