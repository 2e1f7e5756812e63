import { spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeBenchTake } from '../../bench/bench-take.ts';
import { builtCommand, partsong } from './command.ts';

const start = fileURLToPath(new URL('../../../app/cli/start.mjs', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'partsong-refusals-'));
const take = join(folder, 'take.wav');

beforeAll(async () => {
  await builtCommand();
  makeBenchTake({ path: take, lengthSec: 12, seed: 3, pitchHz: 262, startSec: 3 });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('a source is never written over', () => {
  it('by clean, under its own name or through a link, nor by mix into its own folder', async () => {
    const before = readFileSync(take);
    const link = join(folder, 'link.wav');
    symlinkSync(take, link);
    for (const args of [
      ['clean', take, '--out', take],
      ['clean', link, '--out', take],
      ['clean', take, '--out', join(folder, 'x.wav'), '--removed', take],
      ['clean', take, '--out', join(folder, 'x.wav'), '--removed', join(folder, 'x.wav')],
    ]) {
      const end = await partsong(args);
      expect(end.code, args.join(' ')).toBe(2);
      expect(end.stderr, args.join(' ')).toMatch(/never written over|named for two results/);
    }
    const mixed = join(folder, 'mix.wav');
    writeFileSync(mixed, before);
    const end = await partsong(['mix', mixed, '--out', folder]);
    expect(end.code).toBe(2);
    expect(readFileSync(take).equals(before)).toBe(true);
    expect(readFileSync(mixed).equals(before)).toBe(true);
    expect(readdirSync(folder).sort()).toEqual(['link.wav', 'mix.wav', 'take.wav']);
  });

  it('and a folder is not made where a file of that name is', async () => {
    const end = await partsong(['mix', take, '--out', take]);
    expect(end.code).toBe(20);
    expect(end.stderr).toMatch(/is a file, so no folder/);
  });
});

describe('--json', () => {
  it('gives faults of options, too, as JSON on standard output', async () => {
    for (const args of [['mix', take], ['clean', take, '--rule', 'magic', '--out', 'x'], ['sing'], ['loudness']]) {
      const end = await partsong([...args, '--json']);
      expect(end.code, args.join(' ')).toBe(2);
      expect(JSON.parse(end.stdout), args.join(' ')).toMatchObject({ fault: { code: 'bad-option' } });
    }
  });
});

describe('hard surroundings', () => {
  it('a reader that leaves off early (head) is no fault', () => {
    const script = `"${process.execPath}" "${start}" --help | true; echo "$\{PIPESTATUS[0]}"`;
    const end = spawnSync('bash', ['-c', script], { encoding: 'utf8' });
    expect(end.stderr).toBe('');
    expect(end.stdout.trim()).toBe('0');
  });

  it('a pipe in place of a clip is refused at once', async () => {
    const pipe = join(folder, 'pipe');
    spawnSync('mkfifo', [pipe]);
    const end = await partsong(['mix', pipe, '--out', join(folder, 'out')]);
    rmSync(pipe);
    expect(end.code).toBe(12);
    expect(end.stderr).toMatch(/not a plain file/);
  });
});
