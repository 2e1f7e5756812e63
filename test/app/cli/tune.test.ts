import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { guideOf, play, scoreText } from '../desk/tune-kit.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-tune-command-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let clip = '';
const score = join(folder, 'piece.musicxml');

beforeAll(async () => {
  await builtCommand();
  writeFileSync(score, scoreText());
  const guide = await guideOf(score, folder);
  clip = await play(guide, { name: 'flute', part: 0, cents: -18, lateSec: 0, offsetSec: 0 }, folder);
});

describe('partsong tune', () => {
  it('tells in plain sentences, and everything as JSON', async () => {
    const told = await partsong(['tune', clip, '--score', score, '--reference-hz', '440']);
    expect(told.code).toBe(0);
    expect(told.stdout).toContain('flute is 18 cents flat all through');
    const json = await partsong(['tune', clip, '--score', score, '--json']);
    const report = JSON.parse(json.stdout) as { intonation: { reference: { hz: number } }; takes: unknown[] };
    expect(Math.abs(report.intonation.reference.hz - 435.45)).toBeLessThan(0.25);
    expect(report.takes).toHaveLength(1);
  });

  it('refuses a reference, a tonic and a tuning that cannot be', async () => {
    for (const option of [
      ['--reference-hz', '44'],
      ['--tonic', 'h'],
      ['--temperament', 'none'],
    ]) {
      expect((await partsong(['tune', clip, ...option])).code).toBe(2);
    }
  });
});
