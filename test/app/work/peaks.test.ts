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
});
