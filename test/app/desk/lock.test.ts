import { existsSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs';
import { hostname, uptime } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { LOCK_NAME, SessionLock, STALE_MS } from '../../../app/desk/lock.ts';
import { mixClips } from '../../../app/desk/mix-clips.ts';
import type { PartsongError } from '../../../core/signal/fault.ts';
import { bundled, startScript } from './child-script.ts';
import { aVoice, beginDesk, cleanFolders, freshFolder, openDesk } from './desk-kit.ts';

cleanFolders();

async function faultOf(work: Promise<unknown>): Promise<PartsongError> {
  return work.then(
    () => {
      throw new Error('it did not fail');
    },
    (fault: PartsongError) => fault,
  );
}

/** Puts a lock as another process or computer would, its last sign of life so many seconds ago. */
function putLock(folder: string, changes: Record<string, unknown>, silentSec: number): void {
  const path = join(folder, LOCK_NAME);
  const lock = {
    format: 'partsong-lock',
    host: 'cellar',
    machine: 'f'.repeat(16),
    pid: 4242,
    started: null,
    since: '2026-05-01T10:00:00.000Z',
    by: 'the window',
    token: 'aa',
    ...changes,
  };
  writeFileSync(path, JSON.stringify(lock));
  const at = Date.now() / 1000 - silentSec;
  utimesSync(path, at, at);
}

describe('one session opened twice', () => {
  it('is refused in one process, with folder and time, and opens after the first was closed', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    const fault = await faultOf(openDesk(folder));
    expect(fault.code).toBe('session-open');
    expect(fault.message).toMatch(/open already in this Partsong, since \d/);
    expect(fault.message).toContain(folder);
    await desk.close();
    const again = await openDesk(folder);
    await again.close();
    expect(existsSync(join(folder, LOCK_NAME))).toBe(false);
  });

  it('is refused to another process while the first lives, and taken over silently when it was killed', async () => {
    const folder = freshFolder();
    await (await beginDesk(folder)).close();
    const script = await bundled('burst.ts', freshFolder());
    const { child, lines, ended } = startScript(script, [folder]);
    while (lines.length === 0) await new Promise((resolve) => setTimeout(resolve, 5));
    const fault = await faultOf(openDesk(folder));
    expect(fault.message).toMatch(`by the burst on this computer (process ${child.pid})`);
    child.kill('SIGKILL');
    await ended;
    const desk = await openDesk(folder);
    expect(desk.recovered ?? '').not.toMatch(/taken over/);
    await desk.close();
  });

  it('is refused while another computer gives signs of life, and taken over with a word after 5 min without', async () => {
    const folder = freshFolder();
    await (await beginDesk(folder)).close();
    putLock(folder, {}, STALE_MS / 1000 - 30);
    const fault = await faultOf(openDesk(folder));
    expect(fault.message).toMatch(/in the window on the computer cellar \(process 4242 there\), since 1 May/);
    expect(fault.nextStep).toMatch(/Close it on cellar first.*5 minutes/);
    putLock(folder, {}, STALE_MS / 1000 + 90);
    const desk = await openDesk(folder);
    expect(desk.recovered).toMatch(/open on cellar .* no sign of life for [67] minutes; it was taken over/);
    await desk.close();
  });

  it('is taken over from an earlier run of this computer, and where a process has the number of a dead one', async () => {
    const folder = freshFolder();
    await (await beginDesk(folder)).close();
    putLock(folder, { host: hostname() }, Math.max(60, uptime()) + 10);
    await (await openDesk(folder)).close();
    const lock = await SessionLock.take(folder);
    const own = JSON.parse(readFileSync(join(folder, LOCK_NAME), 'utf8')) as Record<string, unknown>;
    await lock.release();
    if (own['started'] === null) return;
    putLock(folder, { ...own, started: '1' }, 1);
    await (await openDesk(folder)).close();
  });

  it('opens although a lock was cut off while it was written, once 10 s have passed', async () => {
    const folder = freshFolder();
    await (await beginDesk(folder)).close();
    const path = join(folder, LOCK_NAME);
    writeFileSync(path, '{"format":');
    expect((await faultOf(openDesk(folder))).code).toBe('session-open');
    utimesSync(path, Date.now() / 1000 - 11, Date.now() / 1000 - 11);
    await (await openDesk(folder)).close();
  });

  it('is given to exactly one of 6 processes that find a lock left behind at the same moment, 5 times', async () => {
    const script = await bundled('lock-taker.ts', freshFolder());
    for (let round = 0; round < 5; round++) {
      const folder = freshFolder();
      putLock(folder, {}, STALE_MS / 1000 + 30);
      const at = String(Date.now() + 600);
      const takers = Array.from({ length: 6 }, () => startScript(script, [folder, at]));
      // The winner holds on until all have tried, however slowly some of them started.
      while (takers.some(({ lines }) => lines.length === 0)) await new Promise((resolve) => setTimeout(resolve, 10));
      for (const { child } of takers) child.kill('SIGKILL');
      await Promise.all(takers.map(({ ended }) => ended));
      const ends = takers.map(({ lines }) => lines[0]?.text).sort();
      expect(ends, `round ${round}`).toEqual(['got it', ...Array(5).fill('session-open')]);
    }
  });
});

describe('a session taken over by another computer', () => {
  it('is no longer saved here, and says so', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    desk.apply({ kind: 'addVoice', voice: aVoice('v1') });
    await desk.save();
    const before = readFileSync(join(folder, 'session.json'), 'utf8');
    putLock(folder, {}, 1);
    desk.apply({ kind: 'setTitle', title: 'too late' });
    const fault = await faultOf(desk.save());
    expect(fault.message).toMatch(/Another Partsong has taken over/);
    expect(desk.saved).toBe('failed');
    await desk.close({ evenIfUnsaved: true });
    expect(readFileSync(join(folder, 'session.json'), 'utf8')).toBe(before);
    expect(existsSync(join(folder, LOCK_NAME))).toBe(true);
  });

  it('makes a lock anew that was removed by hand', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    rmSync(join(folder, LOCK_NAME));
    desk.apply({ kind: 'setTitle', title: 'still here' });
    await desk.save();
    expect((await faultOf(openDesk(folder))).code).toBe('session-open');
    await desk.close();
  });
});

describe('a mix into the folder of an open session', () => {
  it('is refused, and the session stays as it is', async () => {
    const folder = freshFolder();
    const desk = await beginDesk(folder);
    const mix = mixClips({
      clips: [join(folder, 'a.wav')],
      outFolder: folder,
      targetLufs: -14,
      ceilingDbtp: -1,
      signal: new AbortController().signal,
      onStep: () => () => undefined,
    });
    expect((await faultOf(mix)).code).toBe('session-open');
    await desk.close();
    expect((await openDesk(folder)).session).toEqual(desk.session);
  });
});
