import { describe, expect, it } from 'vitest';
import { SURE_EVIDENCE, soundBreaks } from '../../../core/lineup/sound-break.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { tone } from '../pitch/pitch-kit.ts';
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

  it('are found within 12 ms where 2.6 periods are lost so smoothly that only the phases of the partials tell', () => {
    for (let seed = 1; seed <= 5; seed++) {
      const hz = 150 + 13 * seed;
      const levels = Array.from({ length: 10 }, (_, k) => 0.2 / (k + 1));
      const samples = tone(() => hz, 4, levels, RATE_HZ);
      addNoise(samples, 0.0005, new Random(seed));
      const at = 2 * RATE_HZ;
      const lost = Math.round((2.6 / hz) * RATE_HZ);
      const cut = samples.slice(0, samples.length - lost);
      // Crossfaded over 4 ms.
      for (let n = 0; n < cut.length - at; n++) {
        const share = Math.min(1, n / 64);
        cut[at + n] = (1 - share) * samples[at + n]! + share * samples[at + n + lost]!;
      }
      const [first, ...others] = soundBreaks(soundOf(cut, RATE_HZ), 0.5, 3.4);
      expect(first, `seed ${seed}`).toBeDefined();
      expect(Math.abs(first!.atSec - 2.002), `seed ${seed}`).toBeLessThan(0.012);
      expect(first!.evidence, `seed ${seed}`).toBeGreaterThan(SURE_EVIDENCE);
      expect(others, `seed ${seed}`).toEqual([]);
    }
  });

  it('are none of the attacks of 30 s of notes, and none in noise', () => {
    const random = new Random(3);
    const samples = new Float32Array(32 * RATE_HZ);
    addNoise(samples, 0.001, random);
    addNotes(samples, inventNotes(4, 1, 30), 0.2, { leadSec: 0, driftPpm: 0 });
    expect(soundBreaks(soundOf(samples, RATE_HZ), 0, 32)).toEqual([]);
  });
});
