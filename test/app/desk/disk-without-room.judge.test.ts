import { execFileSync } from 'node:child_process';
import { mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Desk, Saved } from '../../../app/desk/desk.ts';
import { findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { takeIn } from '../../../app/work/tasks/take-in.ts';
import { makeBenchTake } from '../../bench/bench-take.ts';
import { make } from '../media/clip-kit.ts';
import { aVoice, beginDesk, cleanFolders, freshFolder, openDesk } from './desk-kit.ts';

cleanFolders();

const disk = join(freshFolder(), 'disk');
const folder = join(disk, 'session');

beforeAll(() => {
  mkdirSync(disk);
  // A disk of 1 MiB. Mounting needs the rights that CI has.
  execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=1m', 'tmpfs', disk]);
});
afterAll(() => {
  execFileSync('umount', [disk]);
});

async function until(desk: Desk, saved: Saved): Promise<void> {
  const begun = performance.now();
  while (desk.saved !== saved) {
    if (performance.now() - begun > 8000) throw new Error(`still ${desk.saved} after 8 s`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

describe('a session on a disk without room', () => {
  it('says so once, goes on with the edits, and has them all on the disk when there is room again', async () => {
    const desk = await beginDesk(folder);
    for (let n = 0; n < 8; n++) desk.apply({ kind: 'addVoice', voice: aVoice(`v${n}`) });
    await desk.save();
    const saved = readFileSync(join(folder, 'session.json'), 'utf8');
    const faults: string[] = [];
    desk.onSaved((_, fault) => fault !== null && faults.push(fault.code));
    try {
      writeFileSync(join(disk, 'filler'), Buffer.alloc(2 << 20));
    } catch {
      // It is full now.
    }
    let edits = 0;
    while (desk.saved !== 'failed') {
      for (let n = 0; n < 50; n++) desk.apply({ kind: 'setTrim', voiceId: `v${n % 8}`, trimDb: (edits++ % 100) / 10 });
      await new Promise((resolve) => setTimeout(resolve, 10));
    }
    for (let n = 0; n < 50; n++) desk.apply({ kind: 'setTrim', voiceId: `v${n % 8}`, trimDb: (edits++ % 100) / 10 });
    await expect(desk.save()).rejects.toMatchObject({ code: 'target-full' });
    expect(faults).toEqual(['target-full']);
    expect(readFileSync(join(folder, 'session.json'), 'utf8')).toBe(saved);
    rmSync(join(disk, 'filler'));
    await until(desk, 'saved');
    const { session } = desk;
    await desk.close();
    const again = await openDesk(folder);
    expect(again.recovered).toBeNull();
    expect(again.session).toEqual(session);
    let steps = 0;
    while (again.undo()) steps++;
    expect(steps).toBe(8 + edits);
    await again.close({ evenIfUnsaved: true });
  });

  it('opens where nothing can be written, says so, and is saved when that has changed', async () => {
    execFileSync('mount', ['-o', 'remount,ro', disk]);
    const desk = await openDesk(folder);
    expect(desk.recovered).toMatch(/Nothing can be saved in its folder now: .*can only be read\./);
    desk.apply({ kind: 'setTitle', title: 'read only' });
    await until(desk, 'failed');
    expect(desk.saveFault?.code).toBe('target-unwritable');
    expect(desk.session.title).toBe('read only');
    execFileSync('mount', ['-o', 'remount,rw', disk]);
    await until(desk, 'saved');
    await expect(openDesk(folder)).rejects.toMatchObject({ code: 'session-open' });
    await desk.close();
    const again = await openDesk(folder);
    expect(again.session.title).toBe('read only');
    await again.close();
  });
});

describe('a clip that is taken in on a disk without room', () => {
  it('is told by the disk, not as a clip that is cut off, and leaves nothing behind', async () => {
    const [clips, cache] = [freshFolder(), join(disk, 'cache')];
    makeBenchTake({ path: join(clips, 'take.wav'), lengthSec: 12, seed: 3, pitchHz: 262, startSec: 3 });
    make(await findFfmpeg(), ['-i', 'take.wav', '-c:a', 'aac', 'take.m4a'], clips);
    mkdirSync(cache);
    const control = { cancel: { aborted: false }, onProgress: () => undefined, breathe: () => undefined };
    const run = takeIn({ file: join(clips, 'take.m4a'), soundPath: join(cache, 'key.f32') }, control);
    await expect(run).rejects.toMatchObject({ code: 'ENOSPC', syscall: 'write' });
    expect(readdirSync(cache)).toEqual([]);
  });
});
