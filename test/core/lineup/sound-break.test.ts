import { describe, expect, it } from 'vitest';
import { soundBreaks } from '../../../core/lineup/sound-break.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addNoise, addNotes, inventNotes, RATE_HZ } from './invented-session.ts';

describe('breaks in the wave of a take', () => {
  it('are found within 1 ms where 20 ms are cut out of a held tone, and nowhere else', () => {
    let found = 0;
    for (let seed = 1; seed <= 10; seed++) {
      const random = new Random(seed);
      const samples = new Float32Array(4 * RATE_HZ);
      addNoise(samples, 0.0005, random);
      addNotes(samples, [{ atSec: 0.2, hz: 220 + 200 * random.uniform(), lengthSec: 3.5 }], 0.2, {
        leadSec: 0,
        driftPpm: 0,
      });
      const at = Math.round((1 + 1.5 * random.uniform()) * RATE_HZ);
      const cut = new Float32Array(samples.length - 320);
      cut.set(samples.subarray(0, at));
      cut.set(samples.subarray(at + 320), at);
      const breaks = soundBreaks(soundOf(cut, RATE_HZ), 0.5, 3.4);
      if (breaks.length > 0 && Math.abs(breaks[0]!.atSec - at / RATE_HZ) <= 0.001) found++;
      expect(breaks.length, `seed ${seed}`).toBeLessThanOrEqual(1);
    }
    // A cut that happens to meet the wave where it left it cannot be told.
    expect(found).toBeGreaterThanOrEqual(8);
  });

  it('are none of the attacks of 30 s of notes, and none in noise', () => {
    const random = new Random(3);
    const samples = new Float32Array(32 * RATE_HZ);
    addNoise(samples, 0.001, random);
    addNotes(samples, inventNotes(4, 1, 30), 0.2, { leadSec: 0, driftPpm: 0 });
    expect(soundBreaks(soundOf(samples, RATE_HZ), 0, 32)).toEqual([]);
  });
});
