import { describe, expect, it } from 'vitest';
import { SecondLook } from '../../../core/pitch/second-look.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { tone } from './pitch-kit.ts';

describe('a look for a second pitch in one window', () => {
  // At 8 kHz the fourth partial of 1150 Hz would lie at 4600 Hz, where there is no sound at all.
  it.each([8000, 11025, 48000])('misses no partial that the sound cannot hold, at %i Hz', (rateHz) => {
    const first = tone(() => 437, 0.5, [0.3, 0.2, 0.1], rateHz);
    const second = tone(() => 1150, 0.5, rateHz < 9200 ? [0.1, 0.08, 0.06] : [0.1, 0.08, 0.06, 0.05], rateHz);
    const both = first.map((value, n) => value + second[n]!);
    const look = new SecondLook(soundOf(both, rateHz));
    look.lookAt(0.25, 437, 0);
    const { hz, missing } = look.second(0.01);
    expect(Math.abs(1200 * Math.log2(hz / 1150))).toBeLessThan(20);
    expect(missing).toBe(0);
  });
});
