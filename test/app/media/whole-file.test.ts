import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { writeWhole } from '../../../app/media/whole-file.ts';
import { CancelledError } from '../../../core/signal/fault.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'partsong whole-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

test('the file appears whole under its name, and nothing else is left in its folder', async () => {
  const target = join(folder, 'Ünser "Mix" 🎺.wav');
  const given = await writeWhole(target, async (partial) => {
    expect(partial.endsWith('.wav')).toBe(true);
    await writeFile(partial, 'first half');
    expect(existsSync(target)).toBe(false);
    await writeFile(partial, 'both halves');
    return 11;
  });
  expect(given).toBe(11);
  expect(readFileSync(target, 'utf8')).toBe('both halves');
  expect(readdirSync(folder)).toHaveLength(1);
});

test('a writer that fails leaves the old file as it was and no partial file', async () => {
  const target = join(folder, 'mix.wav');
  writeFileSync(target, 'old');
  const broken = writeWhole(target, async (partial) => {
    await writeFile(partial, 'new, but only half');
    throw new RangeError('broke');
  });
  await expect(broken).rejects.toThrow(RangeError);
  expect(readFileSync(target, 'utf8')).toBe('old');
  expect(readdirSync(folder)).toEqual(['mix.wav']);
});

test('a raised stop flag leaves no file, and is no fault', async () => {
  const stop = new AbortController();
  const target = join(folder, 'mix.wav');
  const stopped = writeWhole(
    target,
    async (partial) => {
      await writeFile(partial, 'half');
      stop.abort();
    },
    stop.signal,
  );
  await expect(stopped).rejects.toThrow(CancelledError);
  expect(readdirSync(folder)).toEqual([]);
});

test('a missing folder and a folder at the target are told before the writer runs', async () => {
  let ran = false;
  const write = async () => {
    ran = true;
  };
  const missing = join(folder, 'not there', 'mix.wav');
  await expect(writeWhole(missing, write)).rejects.toMatchObject({ code: 'target-unwritable', file: missing });
  const taken = join(folder, 'taken.wav');
  mkdirSync(taken);
  await expect(writeWhole(taken, write)).rejects.toMatchObject({ code: 'target-unwritable', file: taken });
  expect(ran).toBe(false);
});

test('a full disk while writing is told as such, and the partial file is removed', async () => {
  const target = join(folder, 'mix.wav');
  const full = writeWhole(target, async (partial) => {
    await writeFile(partial, 'half');
    throw Object.assign(new Error('ENOSPC: no space left on device, write'), { code: 'ENOSPC' });
  });
  await expect(full).rejects.toMatchObject({ code: 'target-full', file: target });
  expect(readdirSync(folder)).toEqual([]);
});

test('a source that goes missing while writing is not blamed on the target', async () => {
  const gone = writeWhole(join(folder, 'mix.wav'), async () => {
    throw Object.assign(new Error('ENOENT'), { code: 'ENOENT', path: join(folder, 'take.mov') });
  });
  await expect(gone).rejects.toMatchObject({ code: 'ENOENT', path: join(folder, 'take.mov') });
});
