import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { exitCodeOf } from '../../../app/cli/exit-code.ts';
import { makeBenchTake } from '../../bench/bench-take.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-full-'));
const take = join(folder, 'take.wav');
const disk = join(folder, 'disk');

beforeAll(async () => {
  await builtCommand();
  makeBenchTake({ path: take, lengthSec: 30, seed: 4, pitchHz: 262, startSec: 3 });
  execFileSync('mkdir', [disk]);
  // A disk of 2 MiB: a take of 30 s does not fit. Mounting needs the rights that CI has.
  execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=2m', 'tmpfs', disk]);
});
afterAll(() => {
  execFileSync('umount', [disk]);
  rmSync(folder, { recursive: true, force: true });
});

describe('a target without room', () => {
  it('ends mix with the code for a full disk, and leaves nothing on it', async () => {
    const end = await partsong(['mix', take, '--out', join(disk, 'mix')]);
    expect(end.stderr).toMatch(/no room left/);
    expect(end.code).toBe(exitCodeOf('target-full'));
    expect(readdirSync(disk)).toEqual([]);
  });

  it('ends clean with the code for a full disk, and leaves nothing on it', async () => {
    const end = await partsong(['clean', take, '--out', join(disk, 'clean.wav')]);
    expect(end.stderr).toMatch(/no room left/);
    expect(end.code).toBe(exitCodeOf('target-full'));
    expect(readdirSync(disk)).toEqual([]);
  });
});
