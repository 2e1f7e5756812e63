import { describe, expect, it } from 'vitest';
import { humAmount } from '../../../core/lineup/hum-clock.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addNoise, RATE_HZ } from './invented-session.ts';

const AT_SEC = 3;

/** Noise, and hum 6 dB below it that loses some time in the middle; no hum where humHz is 0. */
function take(humHz: number, lostSec: number, seed: number): Float32Array {
  const samples = new Float32Array(6 * RATE_HZ);
  addNoise(samples, 0.002, new Random(seed));
  for (let n = 0; n < samples.length; n++) {
    const sec = n / RATE_HZ;
    samples[n]! += 0.0014 * Math.sin(2 * Math.PI * humHz * 1.0005 * (sec < AT_SEC ? sec : sec + lostSec));
  }
  return samples;
}

describe('the hum of the mains', () => {
  it.each([
    [60, 0.02],
    [60, -0.02],
    [50, 0.0113],
  ])('of %i Hz tells a loss of %f s within 1 ms, but for whole periods', (humHz, lostSec) => {
    for (let seed = 1; seed <= 6; seed++) {
      const says = humAmount(soundOf(take(humHz, lostSec, seed), RATE_HZ), AT_SEC);
      expect(says, `seed ${seed}`).toBeDefined();
      const steps = Array.from({ length: Math.floor(1000 / humHz / 0.1) }, (_, n) => -lostSec - 0.5 / humHz + n * 1e-4);
      const best = steps.reduce((most, step) => (says!(step) > says!(most) ? step : most));
      expect(Math.abs(best + lostSec), `seed ${seed}`).toBeLessThan(0.001);
      expect(says!(-lostSec), `seed ${seed}`).toBeGreaterThan(1.5);
      expect(says!(-lostSec + 1 / humHz) - says!(-lostSec), `seed ${seed}`).toBeCloseTo(0, 6);
    }
  });

  it('says nothing where none is heard, nor where a low note begins', () => {
    const silent = new Float32Array(6 * RATE_HZ);
    addNoise(silent, 0.002, new Random(9));
    expect(humAmount(soundOf(silent, RATE_HZ), AT_SEC)).toBeUndefined();
    const note = take(60, 0, 10);
    for (let n = Math.round((AT_SEC + 0.5) * RATE_HZ); n < note.length; n++) {
      note[n]! += 0.1 * Math.sin((2 * Math.PI * 61.7 * n) / RATE_HZ);
    }
    expect(humAmount(soundOf(note, RATE_HZ), AT_SEC)).toBeUndefined();
  });
});
