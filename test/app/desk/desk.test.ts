import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Desk, keptPath, type Saved } from '../../../app/desk/desk.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { parseSession, type Session } from '../../../core/session/schema.ts';
import type { PartsongError } from '../../../core/signal/fault.ts';
import { aTake, aVoice, beginDesk, cleanFolders, freshFolder, openDesk } from './desk-kit.ts';

cleanFolders();

const savedIn = (folder: string): Session =>
  parseSession(readFileSync(join(folder, 'session.json'), 'utf8'), 'session.json');

/** A session with two voices, a take, some trims and two steps undone; closed again. */
async function workedOn(folder: string): Promise<{ present: Session; undone: Session; redone: Session }> {
  const desk = await beginDesk(folder);
  desk.apply({ kind: 'addVoice', voice: aVoice('v1') });
  desk.apply({ kind: 'addVoice', voice: aVoice('v2') });
  desk.apply({ kind: 'addTake', take: aTake('t1', 'v1') });
  for (let n = 1; n <= 50; n++) desk.apply({ kind: 'setTrim', voiceId: 'v1', trimDb: n / 10 }, 'trim v1');
  desk.apply({ kind: 'renameVoice', voiceId: 'v2', name: 'Tenor' });
  const redone = desk.session;
  desk.apply({ kind: 'setMuted', voiceId: 'v2', muted: true });
  desk.undo();
  desk.undo();
  const present = desk.session;
  desk.undo();
  const undone = desk.session;
  desk.redo();
  await desk.close();
  return { present, undone, redone };
}

const filesOf = (folder: string): string[] =>
  readdirSync(folder)
    .filter((name) => name !== 'caches')
    .sort();

async function untilSaved(desk: Desk, saved: Saved = 'saved'): Promise<void> {
  const begun = performance.now();
  while (desk.saved !== saved) {
    if (performance.now() - begun > 8000) throw new Error(`still ${desk.saved} after 8 s: ${desk.saveFault?.message}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

async function faultOf(work: Promise<unknown>): Promise<PartsongError> {
  return work.then(
    () => {
      throw new Error('it did not fail');
    },
    (fault: PartsongError) => fault,
  );
}

describe('undo across a restart', () => {
  it('leads to the same sessions as before, back and forth, with 50 moves of a fader as one step', async () => {
    const folder = freshFolder();
    const { present, undone, redone } = await workedOn(folder);
    const desk = await openDesk(folder);
    expect(desk.recovered).toBeNull();
    expect(desk.session).toEqual(present);
    expect(desk.undoLabel).toBe('fine move of Voice v1');
    expect(desk.redoLabel).toMatch(/^rename/);
    desk.undo();
    expect(desk.session).toEqual(undone);
    desk.redo();
    desk.redo();
    expect(desk.session).toEqual(redone);
    desk.redo();
    expect(desk.session.voices[1]!.muted).toBe(true);
    expect(desk.redo()).toBe(false);
    for (let n = 0; n < 6; n++) expect(desk.undo()).toBe(true);
    expect(desk.undo()).toBe(false);
    expect(desk.session.voices).toEqual([]);
    await desk.close();
    expect((await reopened(folder)).voices).toEqual([]);
    expect(filesOf(folder)).toEqual(['history.jsonl', 'session.json', 'session.json.1']);
  });

  it('does not join a fader moved after reopening with its move before', async () => {
    const folder = freshFolder();
    const { present } = await workedOn(folder);
    const desk = await openDesk(folder);
    desk.apply({ kind: 'setTrim', voiceId: 'v1', trimDb: 9 }, 'trim v1');
    desk.undo();
    expect(desk.session).toEqual(present);
    await desk.close();
  });

  it('refuses an edit that would lead to a session that cannot be read again, and changes nothing', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    desk.apply({ kind: 'addVoice', voice: aVoice('v1') });
    const before = desk.session;
    expect(() => desk.apply({ kind: 'setTrim', voiceId: 'v1', trimDb: Number.NaN })).toThrow(RangeError);
    expect(() => desk.apply({ kind: 'setTrim', voiceId: 'v9', trimDb: 1 })).toThrow(RangeError);
    expect(() => desk.apply({ kind: 'addVoice', voice: { ...aVoice('v2'), chosenTakeId: 't9' } })).toThrow(RangeError);
    expect(desk.session).toBe(before);
    expect(desk.revision).toBe(1);
    await desk.close();
    expect(await reopened(folder)).toEqual(before);
  });
});

async function reopened(folder: string): Promise<Session> {
  const desk = await openDesk(folder);
  const { session } = desk;
  await desk.close();
  return session;
}

describe('saving by itself', () => {
  it('has an edit in session.json within 1 s, and tells', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    const states: Saved[] = [];
    desk.onSaved((saved) => states.push(saved));
    const begun = performance.now();
    desk.apply({ kind: 'setTitle', title: 'Morning canon' });
    expect(desk.saved).toBe('saving');
    await untilSaved(desk);
    expect(performance.now() - begun).toBeLessThan(1000);
    expect(savedIn(folder).title).toBe('Morning canon');
    expect(states).toEqual(['saving', 'saved']);
    await desk.close();
  });

  it('keeps an older copy for 5 minutes before the next takes its place', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    const copy = join(folder, 'session.json.1');
    for (const title of ['one', 'two', 'three']) {
      desk.apply({ kind: 'setTitle', title });
      await desk.save();
    }
    expect(parseSession(readFileSync(copy, 'utf8'), copy).title).toBe('Evening canon');
    const past = Date.now() / 1000 - 301;
    utimesSync(copy, past, past);
    desk.apply({ kind: 'setTitle', title: 'four' });
    await desk.save();
    expect(parseSession(readFileSync(copy, 'utf8'), copy).title).toBe('three');
    expect(parseSession(readFileSync(`${folder}/session.json.2`, 'utf8'), copy).title).toBe('Evening canon');
    await desk.close();
  });

  it('tells once when the folder is gone, goes on with the edits, and saves when it is back', async () => {
    const folder = join(freshFolder(), 'session');
    const desk = await beginDesk(folder);
    desk.apply({ kind: 'addVoice', voice: aVoice('v1') });
    await desk.save();
    const faults: string[] = [];
    desk.onSaved((_, fault) => fault !== null && faults.push(fault.code));
    const lock = readFileSync(join(folder, 'session.lock'));
    rmSync(folder, { recursive: true });
    desk.apply({ kind: 'setTrim', voiceId: 'v1', trimDb: 3 });
    await untilSaved(desk, 'failed');
    desk.apply({ kind: 'setTrim', voiceId: 'v1', trimDb: 4 });
    const fault = await faultOf(desk.close());
    expect(fault.code).toBe('target-unwritable');
    expect(faults).toEqual(['target-unwritable']);
    mkdirSync(folder);
    writeFileSync(join(folder, 'session.lock'), lock);
    await untilSaved(desk);
    expect(savedIn(folder).voices[0]!.trimDb).toBe(4);
    const { session } = desk;
    await desk.close();
    const again = await openDesk(folder);
    expect(again.session).toEqual(session);
    expect([again.undo(), again.undo(), again.undo(), again.undo()]).toEqual([true, true, true, false]);
    await again.close();
  });

  it('never writes through a link to a clip that lies under one of its names', async () => {
    const folder = freshFolder();
    await workedOn(folder);
    const clip = join(folder, 'clip.mov');
    writeFileSync(clip, 'the only recording');
    rmSync(join(folder, 'session.json.1'));
    symlinkSync(clip, join(folder, 'session.json.1'));
    rmSync(join(folder, 'history.jsonl'));
    symlinkSync(clip, join(folder, 'history.jsonl'));
    const desk = await openDesk(folder);
    desk.apply({ kind: 'setTitle', title: 'Night canon' });
    await desk.close();
    expect(readFileSync(clip, 'utf8')).toBe('the only recording');
    expect((await reopened(folder)).title).toBe('Night canon');
  });

  it('keeps what something else wrote into session.json meanwhile, beside its own', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    desk.apply({ kind: 'setTitle', title: 'ours' });
    await desk.save();
    writeFileSync(join(folder, 'session.json'), '{"theirs":true}');
    desk.apply({ kind: 'setTitle', title: 'still ours' });
    await desk.save();
    expect(readFileSync(join(folder, 'session.json.other'), 'utf8')).toBe('{"theirs":true}');
    await desk.close();
    expect((await reopened(folder)).title).toBe('still ours');
  });
});

describe('mending at opening', () => {
  it('makes a damaged or missing session.json anew from the history, with its undo', async () => {
    for (const harm of ['damaged', 'missing']) {
      const folder = freshFolder();
      const { present, undone } = await workedOn(folder);
      if (harm === 'damaged') writeFileSync(join(folder, 'session.json'), '{"format":');
      else rmSync(join(folder, 'session.json'));
      const desk = await openDesk(folder);
      expect(desk.recovered).toMatch(`session.json was ${harm}`);
      expect(desk.session).toEqual(present);
      desk.undo();
      expect(desk.session).toEqual(undone);
      await desk.close();
      expect(savedIn(folder)).toEqual(undone);
      expect(existsSync(join(folder, 'session.json.damaged'))).toBe(harm === 'damaged');
    }
  });

  it('opens an older copy when neither session.json nor the history can be read', async () => {
    const folder = freshFolder();
    await workedOn(folder);
    writeFileSync(join(folder, 'session.json'), '');
    writeFileSync(join(folder, 'history.jsonl'), Buffer.alloc(5000));
    const desk = await openDesk(folder);
    expect(desk.recovered).toMatch(/session\.json\.1 was opened instead/);
    expect(desk.session.title).toBe('Evening canon');
    await desk.close();
    expect(await reopened(folder)).toEqual(desk.session);
  });

  it('says that a session is damaged when nothing can mend it, and leaves its files as they are', async () => {
    const folder = freshFolder();
    await workedOn(folder);
    rmSync(join(folder, 'session.json.1'));
    rmSync(join(folder, 'history.jsonl'));
    writeFileSync(join(folder, 'session.json'), 'half a');
    expect((await faultOf(openDesk(folder))).code).toBe('session-damaged');
    expect(readFileSync(join(folder, 'session.json'), 'utf8')).toBe('half a');
    expect(existsSync(join(folder, 'session.lock'))).toBe(false);
  });

  it('leaves nothing in a folder that holds no session', async () => {
    const folder = freshFolder();
    expect((await faultOf(openDesk(folder))).code).toBe('file-missing');
    expect(readdirSync(folder)).toEqual([]);
  });

  it('sets a history aside that does not lead to the session', async () => {
    const folder = freshFolder();
    await workedOn(folder);
    const other = Desk.create(folder, 'Another piece', new WorkPool(0));
    other.apply({ kind: 'addVoice', voice: aVoice('x') });
    const text = readFileSync(join(folder, 'history.jsonl'));
    await other.save();
    writeFileSync(join(folder, 'history.jsonl'), text);
    const desk = await openDesk(folder);
    expect(desk.session).toEqual(other.session);
    expect(desk.recovered).toMatch(/history\.jsonl was set aside/);
    expect(desk.undo()).toBe(false);
    await desk.close();
    expect(readFileSync(join(folder, 'history.jsonl.aside'))).toEqual(text);
  });

  it('opens with every kind of harm to the history, and never with another session', { timeout: 30_000 }, async () => {
    const whole = freshFolder();
    const { present } = await workedOn(whole);
    const bytes = readFileSync(join(whole, 'history.jsonl'));
    for (let n = 0; n < 60; n++) {
      const folder = freshFolder();
      copyFileSync(join(whole, 'session.json'), join(folder, 'session.json'));
      const at = Math.floor((bytes.length * n) / 60);
      const harmed =
        n % 3 === 0
          ? bytes.subarray(0, at)
          : n % 3 === 1
            ? Buffer.concat([bytes.subarray(0, at), Buffer.alloc(40), bytes.subarray(at + 40)])
            : Buffer.concat([bytes.subarray(0, at), bytes.subarray(at + 1)]);
      writeFileSync(join(folder, 'history.jsonl'), harmed);
      const desk = await openDesk(folder);
      expect(desk.session, `harm ${n}`).toEqual(present);
      while (desk.undo());
      while (desk.redo());
      await desk.close();
      const again = await openDesk(folder);
      expect(again.recovered, `harm ${n}`).toBeNull();
      await again.close();
    }
  });
});

describe('the path of a clip', () => {
  it('is relative inside the folder, also by a link to it, and absolute outside', () => {
    const folder = freshFolder();
    mkdirSync(join(folder, 'session/clips'), { recursive: true });
    symlinkSync(join(folder, 'session'), join(folder, 'short'));
    const inside = join(folder, 'session');
    expect(keptPath(inside, join(inside, 'clips/a.mov'))).toBe('clips/a.mov');
    expect(keptPath(inside, join(inside, '..strange.mov'))).toBe('..strange.mov');
    expect(keptPath(join(folder, 'short'), join(inside, 'clips/a.mov'))).toBe('clips/a.mov');
    expect(keptPath(inside, join(folder, 'a.mov'))).toBe(join(folder, 'a.mov'));
  });
});
