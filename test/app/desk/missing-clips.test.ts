import { chmodSync, copyFileSync, mkdirSync, readFileSync, renameSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Desk } from '../../../app/desk/desk.ts';
import { clipsWhere, identifyClip, missingClips, relinkEdit, searchClips } from '../../../app/desk/missing-clips.ts';
import { CancelledError, type PartsongError } from '../../../core/signal/fault.ts';
import { Random } from '../../../core/signal/random.ts';
import { aTake, aVoice, beginDesk, cleanFolders, freshFolder, openDesk } from './desk-kit.ts';

cleanFolders();

const noise = (seed: number, bytes: number): Buffer => {
  const random = new Random(seed);
  return Buffer.from(Uint32Array.from({ length: bytes / 4 }, () => random.uint32()).buffer);
};

/** A session folder with 3 clips of one size inside, and a guide outside. */
async function withClips(root: string): Promise<{ desk: Desk; folder: string }> {
  const folder = join(root, 'canon');
  mkdirSync(join(folder, 'clips'), { recursive: true });
  for (const n of [1, 2, 3]) writeFileSync(join(folder, `clips/t${n}.mov`), noise(n, 40_000));
  writeFileSync(join(root, 'guide.wav'), noise(9, 8000));
  const desk = await beginDesk(folder);
  desk.apply({ kind: 'addVoice', voice: aVoice('v1') });
  const refOf = async (file: string) => ({ path: desk.keptPath(file), ...(await identifyClip(file)) });
  for (const n of [1, 2, 3]) {
    const clip = await refOf(join(folder, `clips/t${n}.mov`));
    desk.apply({ kind: 'addTake', take: { ...aTake(`t${n}`, 'v1'), clip } });
  }
  desk.apply({ kind: 'setGuide', clip: await refOf(join(root, 'guide.wav')) });
  return { desk, folder };
}

const states = async (desk: Desk) =>
  Object.fromEntries((await clipsWhere(desk.session, desk.folder)).map(({ takeId, state }) => [takeId, state]));

describe('the clips of a session', () => {
  it('are there, missing, or other by content even where size and name are the same', async () => {
    const root = freshFolder();
    const { desk, folder } = await withClips(root);
    expect(await states(desk)).toEqual({ guide: 'there', t1: 'there', t2: 'there', t3: 'there' });
    renameSync(join(folder, 'clips/t1.mov'), join(folder, 'clips/renamed.mov'));
    writeFileSync(join(folder, 'clips/t2.mov'), noise(22, 40_000));
    writeFileSync(join(folder, 'clips/t3.mov'), '');
    writeFileSync(join(root, 'guide.wav'), noise(9, 8004));
    expect(await states(desk)).toEqual({ guide: 'other', t1: 'missing', t2: 'other', t3: 'other' });
    expect(await missingClips(desk.session, desk.folder)).toHaveLength(4);
    await desk.close();
  });

  it('are found after the session folder was moved', async () => {
    const root = freshFolder();
    const { desk, folder } = await withClips(root);
    await desk.close();
    renameSync(folder, join(root, 'moved'));
    const moved = await openDesk(join(root, 'moved'));
    expect(await states(moved)).toEqual({ guide: 'there', t1: 'there', t2: 'there', t3: 'there' });
    await moved.close();
  });
});

describe('a search for missing clips', () => {
  it('finds them by content under other names, through links that lead in circles, and relinks in one step of undo', async () => {
    const root = freshFolder();
    const { desk, folder } = await withClips(root);
    const away = join(root, 'away');
    mkdirSync(join(away, 'phone/DCIM'), { recursive: true });
    const clip = (n: number) => join(folder, `clips/t${n}.mov`);
    renameSync(clip(1), join(away, 'phone/DCIM/IMG_0001.MOV'));
    // Inside the session's folder again, and a copy with the old name deeper down, which is preferred.
    copyFileSync(clip(2), join(folder, 'other name.mov'));
    mkdirSync(join(folder, 'deep/er'), { recursive: true });
    renameSync(clip(2), join(folder, 'deep/er/t2.mov'));
    renameSync(clip(3), join(root, 'elsewhere.mov'));
    writeFileSync(join(away, 'same size.mov'), noise(77, 40_000));
    symlinkSync(root, join(away, 'phone/circle'));
    const wanted = await missingClips(desk.session, desk.folder);
    expect(wanted.map(({ takeId }) => takeId)).toEqual(['t1', 't2', 't3']);
    const fractions: number[] = [];
    const search = await searchClips(away, wanted, { onProgress: (fraction) => fractions.push(fraction) });
    expect(search.missing).toEqual([]);
    expect(search.notes).toEqual([]);
    expect(fractions.every((fraction, n) => n === 0 || fraction >= fractions[n - 1]!)).toBe(true);
    expect(fractions.at(-1)).toBe(1);
    const before = desk.session;
    desk.apply(relinkEdit(search.found, (file) => desk.keptPath(file)));
    expect(await missingClips(desk.session, desk.folder)).toEqual([]);
    expect(desk.session.takes[1]!.clip.path).toBe('deep/er/t2.mov');
    expect(desk.undoLabel).toBe('find 3 clips again');
    desk.undo();
    expect(desk.session).toBe(before);
    await desk.close();
  });

  it('says what was not found, and can be stopped', async () => {
    const root = freshFolder();
    const { desk, folder } = await withClips(root);
    renameSync(join(folder, 'clips'), join(root, 'gone'));
    const wanted = await missingClips(desk.session, desk.folder);
    const empty = freshFolder();
    const locked = join(empty, 'locked');
    mkdirSync(locked);
    chmodSync(locked, 0o000);
    const search = await searchClips(empty, wanted);
    expect(search.missing).toEqual(['t1', 't2', 't3']);
    chmodSync(locked, 0o700);
    const stop = AbortSignal.abort();
    await expect(searchClips(root, wanted, { signal: stop })).rejects.toThrow(CancelledError);
    const fault = await searchClips(join(root, 'nowhere'), wanted).catch((error: PartsongError) => error);
    expect(fault).toMatchObject({ code: 'file-missing' });
    await desk.close();
  });

  it('changes no clip', async () => {
    const root = freshFolder();
    const { desk, folder } = await withClips(root);
    renameSync(join(folder, 'clips/t1.mov'), join(root, 'x.mov'));
    chmodSync(join(root, 'x.mov'), 0o444);
    const { found } = await searchClips(root, await missingClips(desk.session, desk.folder));
    desk.apply(relinkEdit(found, (file) => desk.keptPath(file)));
    await desk.close();
    expect(readFileSync(join(root, 'x.mov')).equals(noise(1, 40_000))).toBe(true);
    expect(desk.session.takes[0]!.clip.path).toBe(join(root, 'x.mov'));
  });
});
