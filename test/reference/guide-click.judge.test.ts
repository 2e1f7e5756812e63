import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { WaveFileWriter } from '../../app/work/wave-file.ts';
import { planGuide, usualGuide } from '../../core/guide/guide-plan.ts';
import { GuideSound } from '../../core/guide/guide-sound.ts';
import type { Score } from '../../core/guide/score.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-click-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** 4/4, then 6/8, then 7/8, with a ritardando. */
const score: Score = {
  title: 'Metres',
  parts: [],
  metres: [
    { atBar: 0, beats: 4, unit: 4, groups: null },
    { atBar: 4, beats: 6, unit: 8, groups: null },
    { atBar: 7, beats: 7, unit: 8, groups: null },
  ],
  pickUpQuarters: 0,
  tempo: [
    { atQuarters: 0, quartersPerMinute: 96, glides: false },
    { atQuarters: 8, quartersPerMinute: 96, glides: true },
    { atQuarters: 25, quartersPerMinute: 60, glides: false },
  ],
  holds: [],
  lengthQuarters: 32,
  notes: [],
};

describe('the click, by the onset detector of aubio (Debian)', () => {
  it('has each onset within 3 ms of its place, count-in, 4/4, 6/8, 7/8 and ritardando alike', () => {
    const plan = planGuide(score, { ...usualGuide, tuningSec: 0 });
    const sound = new GuideSound(score, plan, {
      referenceHz: 440,
      temperament: 'equal',
      tonic: 0,
      partGainsDb: {},
      clickDb: 0,
      droneKey: null,
    });
    const samples = new Float32Array(plan.lengthFrames);
    sound.next(samples);
    const file = join(folder, 'click.wav');
    const writer = new WaveFileWriter(file, { format: 'pcm24', channels: 1, rateHz: 48000 });
    writer.write([samples]);
    writer.finish();
    const told = execFileSync(
      'aubioonset',
      ['-i', file, '-O', 'energy', '-B', '512', '-H', '64', '-t', '0.3', '-M', '0.1'],
      {
        encoding: 'utf8',
      },
    );
    const onsets = told.trim().split(/\s+/).map(Number);
    const inMusic = onsets.filter((sec) => sec * 48000 > plan.countInFrame - 2400 && sec * 48000 < plan.musicEndFrame);
    expect(inMusic).toHaveLength(plan.clicks.length);
    const errors = plan.clicks.map((click, index) => inMusic[index]! - click.frame / 48000);
    // The detector's own delay is the same for each click; what counts is how they lie against each other.
    const middle = [...errors].sort((a, b) => a - b)[errors.length >> 1]!;
    expect(Math.abs(middle)).toBeLessThan(0.01);
    const worst = Math.max(...errors.map((error) => Math.abs(error - middle)));
    expect(worst).toBeLessThan(0.003);
  });
});
