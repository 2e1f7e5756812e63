import { describe, expect, it } from 'vitest';
import { PeakGatherer } from '../../../app/work/peaks.ts';
import { Random } from '../../../core/signal/random.ts';

describe('PeakGatherer', () => {
  it('gives the least and greatest sample of each 25th of a second, however the sound is cut', () => {
    const random = new Random(8);
    const sound = Float32Array.from({ length: 44100 }, () => random.uniform() - 0.5);
    const whole = new PeakGatherer(44100, 25);
    whole.add(sound);
    const cut = new PeakGatherer(44100, 25);
    for (let from = 0; from < sound.length; from += 777) cut.add(sound.subarray(from, from + 777));
    expect(cut.result()).toEqual(whole.result());
    const { highest, lowest } = whole.result();
    expect(highest).toHaveLength(25);
    const third = sound.subarray(2 * 1764, 3 * 1764);
    expect(highest[2]).toBeCloseTo(Math.max(...third), 4);
    expect(lowest[2]).toBeCloseTo(Math.min(...third), 4);
  });

  it('gives half as many a second, each of twice the length, where 4096 are too few', () => {
    const random = new Random(9);
    const sound = Float32Array.from({ length: 300 * 1000 }, () => random.uniform() - 0.5);
    const gatherer = new PeakGatherer(1000, 25);
    for (let from = 0; from < sound.length; from += 777) gatherer.add(sound.subarray(from, from + 777));
    const { perSec, lowest, highest } = gatherer.result();
    expect(perSec).toBe(12.5);
    expect(highest).toHaveLength(300 * 12.5);
    for (const n of [0, 1000, 2047, 2048, 3749]) {
      const stretch = sound.subarray(80 * n, 80 * (n + 1));
      expect(highest[n]).toBeCloseTo(Math.max(...stretch), 4);
      expect(lowest[n]).toBeCloseTo(Math.min(...stretch), 4);
    }
  });
});
