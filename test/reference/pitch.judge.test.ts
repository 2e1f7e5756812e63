import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { WaveFileWriter } from '../../app/work/wave-file.ts';
import type { SoundFamily } from '../../core/guide/score.ts';
import { medianOf } from '../../core/pitch/pitch-span.ts';
import { centsWithin, hzOfKey, inRoom, noisy, played, row, type TestNote, tracked } from '../core/pitch/pitch-kit.ts';

const RATE_HZ = 44100;
const folder = mkdtempSync(join(tmpdir(), 'partsong-pitch-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Pitch by aubio's YIN, its other methods being far off (CV-6.4): times and Hz. */
function byAubio(sound: Float32Array): { sec: number; hz: number }[] {
  const path = join(folder, 'sound.wav');
  const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz: RATE_HZ });
  writer.write([sound]);
  writer.finish();
  const text = execFileSync('aubiopitch', ['-i', path, '-p', 'yin', '-B', '2048', '-H', '512', '-r', String(RATE_HZ)]);
  return text
    .toString()
    .trim()
    .split('\n')
    .map((line) => {
      const [sec, hz] = line.split(' ').map(Number);
      return { sec: sec!, hz: hz! };
    })
    .filter(({ hz }) => hz > 0);
}

interface Score {
  median: number;
  gross: number;
}

/** Median error of notes, cents, and share of frames that are more than 50 cents off. */
function scored(notes: readonly TestNote[], centsOf: (note: TestNote) => number[]): Score {
  const errors: number[] = [];
  let frames = 0;
  let gross = 0;
  for (const note of notes) {
    const cents = centsOf(note).map((one) => one - note.cents);
    if (cents.length === 0) continue;
    errors.push(Math.abs(medianOf(cents)));
    frames += cents.length;
    gross += cents.filter((one) => Math.abs(one) > 50).length;
  }
  return { median: medianOf(errors), gross: gross / frames };
}

describe('pitch beside aubio (Debian)', () => {
  it.each([
    ['bowed', [43, 48, 55, 62, 50]],
    ['blown', [60, 67, 76, 84, 71]],
    ['voice', [48, 55, 64, 71, 57]],
  ] as const)('is no farther off than its YIN on %s notes at 20 dB SNR in a room', (family, keys) => {
    const notes = row(keys, 0.7, 0.05, (index) => 9 * index - 20);
    const dry = played(notes, family as SoundFamily, RATE_HZ);
    const sound = noisy(inRoom(dry, 0.4, 4, 11, RATE_HZ), 20, 12);
    const track = tracked(sound, RATE_HZ);
    const ours = scored(notes, (note) => centsWithin(track, note.fromSec + 0.12, note.toSec - 0.08, note.key));
    const frames = byAubio(sound);
    const theirs = scored(notes, (note) =>
      frames
        .filter(({ sec }) => sec > note.fromSec + 0.12 && sec < note.toSec - 0.08)
        .map(({ hz }) => 1200 * Math.log2(hz / hzOfKey(note.key))),
    );
    const told = ({ median, gross }: Score): string =>
      `${median.toFixed(2)} cents, ${(100 * gross).toFixed(1)} % gross`;
    console.log(`${family}: ours ${told(ours)}; aubio ${told(theirs)}`);
    expect(ours.median).toBeLessThanOrEqual(Math.max(0.2, theirs.median));
    expect(ours.gross).toBeLessThanOrEqual(Math.max(0.01, theirs.gross));
  });
});
