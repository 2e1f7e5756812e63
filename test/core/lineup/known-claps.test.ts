import { describe, expect, it } from 'vitest';
import type { ClapSound } from '../../../core/lineup/clap.ts';
import { clapPair, standingBeforeMusic } from '../../../core/lineup/known-claps.ts';
import { standingClaps } from '../../../core/lineup/standing-claps.ts';

const marks = { clapsSec: [14, 90], music: { fromSec: 20, toSec: 86 }, hasVoices: false };
const sharp = (atSec: number, likeness = 0.9): ClapSound => ({
  atSec,
  riseDb: 30,
  fallSec: 0.1,
  levelDb: -20,
  brightDb: 0,
  likeness,
});

describe('claps to a guide whose cues are known', () => {
  it('are the two sounds as far apart as the cues to 85 ms, not a chair or a key', () => {
    const pair = clapPair([sharp(3), sharp(16.02), sharp(17.4), sharp(92.05), sharp(95)], marks)!;
    expect([pair.first.atSec, pair.last.atSec]).toEqual([16.02, 92.05]);
    expect(pair.sureness).toBeGreaterThan(0.85);
    expect(clapPair([sharp(16), sharp(92.15)], marks)).toBeUndefined();
    expect(clapPair([sharp(16)], marks)).toBeUndefined();
    expect(clapPair([sharp(16), sharp(92)], { ...marks, clapsSec: [14] })).toBeUndefined();
  });

  it('are not sure where as good a pair fits elsewhere, as among the strokes of a drum', () => {
    const strokes = Array.from({ length: 150 }, (_, n) => sharp(10 + 0.8 * n));
    expect(clapPair(strokes, marks)!.sureness).toBeLessThan(0.5);
  });

  it('stand where the music that follows asks for them, though a later knock is the last before it', () => {
    const sounds = [sharp(4), sharp(16), sharp(18.9), sharp(22)];
    const standing = standingClaps(sounds, 22);
    expect(standing[0]!.atSec).toBe(18.9);
    const known = standingBeforeMusic(standing, 22, marks);
    expect(known[0]).toMatchObject({ atSec: 16, standing: 0.9 });
    expect(known[1]!.standing).toBeLessThan(0.2);
  });

  it('stand as they did where none lies there, as of a voice that comes in late', () => {
    const standing = standingClaps([sharp(16), sharp(40)], 45);
    expect(standingBeforeMusic(standing, 45, marks)).toBe(standing);
    expect(standingBeforeMusic(standing, undefined, marks)).toBe(standing);
  });
});
