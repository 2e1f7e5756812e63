import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { RenderFolder } from '../../../app/desk/render-folder.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'partsong-render-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** Renders stems of these names and a mix that holds `sound`. */
async function render(names: readonly string[], sound: string): Promise<void> {
  const stems = names.map((name) => join('stems', name));
  const work = await RenderFolder.open(folder, ['mix.wav', ...stems]);
  mkdirSync(work.path('stems'));
  for (const name of [...stems, 'mix.wav']) writeFileSync(work.path(name), sound);
  const takes = names.map((name) => ({ stem: `stems/${name}` }));
  writeFileSync(work.path('report.json'), JSON.stringify({ format: 'partsong-report', takes, mix: { copies: [] } }));
  await work.keep();
}

describe('a render into a folder that is in use', () => {
  it('replaces its own files, removes stems of the render before, and touches nothing else', async () => {
    await render(['a.wav', 'b.wav'], 'first');
    writeFileSync(join(folder, 'stems', 'mine.wav'), 'mine');
    writeFileSync(join(folder, 'notes.txt'), 'mine');
    await render(['b.wav', 'c.wav'], 'second');
    expect(readdirSync(folder).sort()).toEqual(['mix.wav', 'notes.txt', 'report.json', 'stems']);
    expect(readdirSync(join(folder, 'stems')).sort()).toEqual(['b.wav', 'c.wav', 'mine.wav']);
    expect(readFileSync(join(folder, 'mix.wav'), 'utf8')).toBe('second');
  });

  it('refuses to replace a mix or a stem that Partsong has not made', async () => {
    for (const name of ['mix.wav', join('stems', 'a.wav'), 'report.html']) {
      mkdirSync(join(folder, 'stems'), { recursive: true });
      writeFileSync(join(folder, name), 'mine');
      await expect(render(['a.wav'], 'new')).rejects.toMatchObject({ code: 'target-exists' });
      expect(readFileSync(join(folder, name), 'utf8')).toBe('mine');
      rmSync(join(folder, name));
    }
    expect(readdirSync(folder)).toEqual(['stems']);
  });

  it('removes nothing outside, whatever an earlier report says', async () => {
    const outside = join(folder, 'outside.wav');
    writeFileSync(outside, 'mine');
    const takes = [{ stem: '../outside.wav' }, { stem: 'stems/../outside.wav' }, { stem: 7 }];
    writeFileSync(join(folder, 'report.json'), JSON.stringify({ format: 'partsong-report', takes }));
    await render(['a.wav'], 'new');
    expect(existsSync(outside)).toBe(true);
  });

  it('refuses a second run while one is at work, and clears up after one that was killed', async () => {
    const first = await RenderFolder.open(folder, []);
    await expect(RenderFolder.open(folder, [])).rejects.toThrow(/Another Partsong is at work/);
    const [mine] = readdirSync(folder);
    await first.abandon();
    const dead = spawnSync(process.execPath, ['-e', '']).pid;
    mkdirSync(join(folder, mine!.replace(`-${process.pid}-`, `-${dead}-`), 'stems'), { recursive: true });
    const next = await RenderFolder.open(folder, []);
    expect(readdirSync(folder)).toHaveLength(1);
    await next.abandon();
  });
});
