import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { heardNotes } from '../../core/pitch/heard-notes.ts';
import { pitchVerdict } from '../../core/pitch/pitch-verdict.ts';
import { secondPitch } from '../../core/pitch/second-pitch.ts';
import { soundOf } from '../../core/signal/sound.ts';
import { inRoom, noisy, RATE_HZ, tracked } from '../core/pitch/pitch-kit.ts';
import { HELD_OUT, melodyCases } from './melody-cases.ts';
import { OnsetScore } from './onset-score.ts';
import { playMelodies } from './sampled-melody.ts';
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

// Instruments, keys, rooms and noise (15 to 40 dB SNR) that nothing was chosen on. F of onsets within 50 ms; before the signs of a
// beginning were weighed together: 0.85, 0.70 and 0.38.
describe('beginnings of notes on instruments that were held out', () => {
  const LEAST_F = { 'repeats 3/s': 0.82, trill: 0.82, vibrato: 0.74 } as const;
  it.each(Object.entries(LEAST_F))('are found within 50 ms in %s with an F of %d', (kind, leastF) => {
    const cases = melodyCases(HELD_OUT, 3, folder, 1, [kind]);
    const dry = playMelodies(
      cases.map((one) => one.melody),
      folder,
      RATE_HZ,
    );
    const score = new OnsetScore();
    for (const [index, one] of cases.entries()) {
      const sound = noisy(inRoom(dry[index]!, one.t60Sec, one.directDb, one.seed + 1), one.snrDb, one.seed + 2);
      const onsets = heardNotes(tracked(sound)).map((note) => note.onsetSec);
      score.add(one.onsets, onsets);
    }
    console.log(
      `${kind}: precision ${score.precision.toFixed(3)}, recall ${score.recall.toFixed(3)}, F ${score.f.toFixed(3)}`,
    );
    expect(score.f).toBeGreaterThanOrEqual(leastF);
  });
});

describe('what can be measured of sampled instruments', () => {
  const ways = [0, 7, 12, 16, 19, 24, 19, 16, 0, 7, 12, 16, 19, 24, 19, 16];
  /** A row of keys from a key on; each sounds on over the next ones where it rings. */
  function kindOf(program: number, key: number, steps: readonly number[], soundsSec: number, t60Sec: number): string {
    const notes = steps.map((way, n) => ({
      fromSec: 0.5 + 0.3 * n,
      toSec: 0.5 + 0.3 * n + soundsSec,
      key: key + way,
      velocity: 80,
    }));
    const [dry] = playMelodies([{ program, notes }], folder, RATE_HZ);
    const sound = noisy(inRoom(dry!, t60Sec, 4, 7), 25, 8);
    const track = tracked(sound);
    return pitchVerdict(track, () => secondPitch(soundOf(sound, RATE_HZ), track)).kind;
  }

  // A vibraphone that plays these keys passes for one clear pitch at a time, and so does a banjo: not told.
  it.each([
    ['guitar', 24],
    ['steel guitar', 25],
    ['piano', 1],
  ])('is not clearly a %s (program %d) whose notes ring on over each other', (_name, program) => {
    expect(['several', 'unsure']).toContain(kindOf(program, 48, ways, 2.5, 0.4));
  });

  it.each([
    ['viola', 41, 60],
    ['recorder', 74, 72],
    ['trombone', 57, 43],
    ['guitar', 25, 52],
  ])('is a %s (program %d) one note at a time in a room of 1.8 s', (_name, program, key) => {
    expect(['pitched', 'unsure']).toContain(kindOf(program, key, [0, 2, 4, 7, 9, 7, 4, 0, 2, 4, 5, 7], 0.3, 1.8));
  });
});
