import { describe, expect, it } from 'vitest';
import { BiquadCascade, biquadGainDb, designBiquad } from '../../../core/signal/biquad.ts';
import { Random } from '../../../core/signal/random.ts';

const highPass = designBiquad({ kind: 'highPass', hz: 80, q: Math.SQRT1_2 }, 48000);
const peak = designBiquad({ kind: 'peak', hz: 1000, q: 1, gainDb: 6 }, 48000);

describe('BiquadCascade', () => {
  it('has the gain that its coefficients say, within 0.01 dB at 60, 1000 and 5000 Hz', () => {
    for (const hz of [60, 1000, 5000]) {
      const samples = Float32Array.from({ length: 48_000 }, (_, n) => 0.1 * Math.sin((2 * Math.PI * hz * n) / 48000));
      new BiquadCascade([highPass, peak]).process(samples);
      const power = samples.subarray(24_000).reduce((sum, value) => sum + value * value, 0) / 24_000;
      const expected = biquadGainDb(highPass, hz, 48000) + biquadGainDb(peak, hz, 48000);
      expect(Math.abs(10 * Math.log10(power / 0.005) - expected)).toBeLessThan(0.01);
    }
  });

  it('gives the same sound to the bit in blocks of 7 and whole', () => {
    const random = new Random(5);
    const whole = Float32Array.from({ length: 5000 }, () => random.uniform() - 0.5);
    const cut = whole.slice();
    new BiquadCascade([highPass, peak]).process(whole);
    const cascade = new BiquadCascade([highPass, peak]);
    for (let from = 0; from < cut.length; from += 7) cascade.process(cut.subarray(from, from + 7));
    expect(cut).toEqual(whole);
  });

  it('comes to rest in silence, without denormal numbers', () => {
    const cascade = new BiquadCascade([peak]);
    cascade.process(Float32Array.of(1));
    for (let block = 0; block < 100; block++) cascade.process(new Float32Array(480));
    const rest = new Float32Array(10);
    cascade.process(rest);
    expect(rest.every((value) => value === 0)).toBe(true);
  });

  it('refuses a corner above half of the rate, and another count of stages', () => {
    expect(() => designBiquad({ kind: 'lowPass', hz: 24000, q: 1 }, 48000)).toThrow(RangeError);
    expect(() => new BiquadCascade([peak]).setStages([peak, peak])).toThrow(RangeError);
  });
});
