import { describe, expect, it } from 'vitest';
import { LevelTrack, TRACK_BANDS } from '../../../core/noise/level-track.ts';
import { makeTake } from './take-signals.ts';

describe('LevelTrack', () => {
  it('hears the same in the kernel and in plain TypeScript, within 0.001 dB, and the same peak', () => {
    const { take, rateHz } = makeTake({ seed: 333, hum: true });
    const [kernel, plain] = (['kernel', 'plain'] as const).map((engine) => {
      const track = new LevelTrack(rateHz, engine);
      for (let from = 0; from < take.length; from += 1537) track.add(take.subarray(from, from + 1537));
      return track;
    });
    expect(kernel!.steps).toBe(plain!.steps);
    expect(kernel!.takePeak()).toBe(plain!.takePeak());
    for (let band = 0; band < TRACK_BANDS; band++) {
      for (let n = 0; n < plain!.steps; n++) {
        // Sums of 1200 single-precision squares.
        expect(Math.abs(10 * Math.log10(kernel!.power(band, n) / plain!.power(band, n)))).toBeLessThan(0.001);
      }
    }
  });
});
