import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { heardNotes } from '../../core/pitch/heard-notes.ts';
import { inRoom, noisy, tracked } from '../core/pitch/pitch-kit.ts';
import { playSampled, SAMPLED_RATE_HZ } from './sampled-notes.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-strokes-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Notes heard of a row of a General MIDI program, in a room of 0.4 s at 25 dB SNR. */
function heardOf(program: number, keys: readonly number[], stepSec: number, noteSec: number): number {
  const [row] = playSampled([{ program, keys, cents: keys.map(() => 0), stepSec, noteSec }], folder);
  const sound = noisy(inRoom(row!.sound, 0.4, 4, 3, SAMPLED_RATE_HZ), 25, 4);
  return heardNotes(tracked(sound, SAMPLED_RATE_HZ)).length;
}

// Samples of FluidR3 by FluidSynth (Debian): the programs' numbers are General MIDI's.
describe('notes of sampled instruments without a score', () => {
  it.each([
    ['an oboe', 68, 70, 0.18],
    ['a clarinet', 71, 65, 0.18],
    ['a trumpet', 56, 67, 0.18],
    ['an oboe', 68, 70, 0.3],
    ['a recorder', 74, 76, 0.3],
    ['an oboe', 68, 70, 0.5],
    ['a violin', 40, 70, 0.5],
    ['a guitar', 24, 57, 0.5],
  ])('are ten where %s (program %d) repeats key %d ten times, every %d s', (_name, program, key, stepSec) => {
    expect(heardOf(program, Array(10).fill(key), stepSec, 0.85 * stepSec)).toBe(10);
  });

  // Of the viola and the oboe some dips of a vibrato in the room are still taken for beginnings.
  it.each([
    ['a violin', 40, 70, 12],
    ['a viola', 41, 62, 15],
    ['an oboe', 68, 70, 13],
    ['a flute', 73, 74, 12],
  ])(
    'are twelve where %s (program %d) with vibrato plays as many from key %d on, or %d at most',
    (_name, program, key, most) => {
      const keys = [0, 4, 7, 12, 9, 5, 2, -3, -1, 3, 8, 6].map((way) => key + way);
      const heard = heardOf(program, keys, 0.8, 0.8);
      expect(heard).toBeGreaterThanOrEqual(12);
      expect(heard).toBeLessThanOrEqual(most);
    },
  );
});
