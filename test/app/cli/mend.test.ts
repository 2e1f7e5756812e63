import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { MendClipReport } from '../../../app/desk/mend-clip.ts';
import { guideOf, play, scoreText } from '../desk/tune-kit.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-mend-command-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let clip = '';
const score = join(folder, 'piece.musicxml');
const out = join(folder, 'mended.wav');

beforeAll(async () => {
  await builtCommand();
  writeFileSync(score, scoreText());
  const guide = await guideOf(score, folder);
  clip = await play(guide, { name: 'flute', part: 0, cents: -18, lateSec: 0, offsetSec: 0 }, folder);
});

describe('partsong mend', () => {
  it('says what could be mended, and mends nothing by itself', async () => {
    const before = readFileSync(clip);
    const told = await partsong(['mend', clip, '--score', score, '--reference-hz', '440']);
    expect(told.code).toBe(0);
    expect(told.stdout).toContain('It could be moved by --cents 18.');
    expect(readFileSync(clip).equals(before)).toBe(true);
    const refused = await partsong(['mend', clip, '--out', out]);
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain('nothing is mended by itself');
    expect(existsSync(out)).toBe(false);
  });

  it('brings a take that is 18 cents flat to its reference within 1 cent, as long as it was, and tells how', async () => {
    const wish = ['--cents', 'auto', '--reference-hz', '440', '--score', score, '--nudge', '0:08-9:20'];
    const told = await partsong(['mend', clip, ...wish, '--out', out, '--json']);
    expect(told.stderr).not.toContain('Error');
    const report = JSON.parse(told.stdout) as MendClipReport;
    expect(report.before!.offCents).toBeLessThan(-17);
    expect(Math.abs(report.after!.offCents)).toBeLessThan(1);
    expect(report.mend).toMatchObject({ cents: 18, nudges: [{ fromSec: 8, toSec: 9, byMs: 20 }] });
    expect(report.notes.join(' ')).toContain('One stretch was moved in time, by up to 20 ms');
    expect(existsSync(out)).toBe(true);
  });

  it.each([
    ['--cents', '60'],
    ['--nudge', '8-9'],
    ['--nudge', '8-9:70'],
    ['--cents', 'auto'],
    ['--cents', '5'],
  ])('refuses %s %s, or what lacks a target, with exit code 2', async (...option) => {
    const target = option[1] === '5' ? [] : ['--out', join(folder, 'no.wav')];
    expect((await partsong(['mend', clip, ...option, ...target])).code).toBe(2);
    expect(existsSync(join(folder, 'no.wav'))).toBe(false);
  });
});
