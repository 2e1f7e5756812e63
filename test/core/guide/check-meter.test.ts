import { describe, expect, it } from 'vitest';
import { type CheckCurves, CheckMeter } from '../../../core/guide/check-meter.ts';
import { BiquadCascade, designBiquad } from '../../../core/signal/biquad.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 99;

/** Notes under noise, steps that rumble, a second of digital silence. */
function makeSound(rateHz: number): Float32Array {
  const random = new Random(SEED);
  return Float32Array.from({ length: Math.round(8.03 * rateHz) }, (_, n) => {
    const sec = n / rateHz;
    if (sec > 6 && sec < 7) return 0;
    const note = sec > 2 ? 0.3 * Math.sin(2 * Math.PI * 440 * sec) * Math.exp(-3 * (sec % 0.5)) : 0;
    const rumble = sec > 4 && sec < 5 ? 0.1 * Math.sin(2 * Math.PI * 17 * sec) : 0;
    return note + rumble + 0.001 * random.gaussian();
  });
}

/** The curves as they were gathered before: filtered sound in single precision, filter by filter. */
function byCascades(sound: Float32Array, rateHz: number): Omit<CheckCurves, 'stepSec'> {
  const step = Math.round(rateHz / 20);
  const low = designBiquad({ kind: 'lowPass', hz: 35, q: Math.SQRT1_2 }, rateHz);
  const bright = designBiquad({ kind: 'highPass', hz: 2000, q: Math.SQRT1_2 }, rateHz);
  const filtered = [[], [low, low], [bright, bright]].map((stages) => {
    const copy = sound.slice();
    new BiquadCascade(stages).process(copy);
    return copy;
  });
  const steps = Math.floor(sound.length / step);
  const [power, lowPower, brightPower] = filtered.map((samples) =>
    Float32Array.from({ length: steps }, (_, n) => {
      const part = samples.subarray(n * step, (n + 1) * step);
      return part.reduce((sum, x) => sum + x * x, 0) / step;
    }),
  );
  const peak = Float32Array.from({ length: steps }, (_, n) =>
    sound.subarray(n * step, (n + 1) * step).reduce((most, x) => Math.max(most, Math.abs(x)), 0),
  );
  return { power: power!, lowPower: lowPower!, brightPower: brightPower!, peak };
}

describe('CheckMeter', () => {
  for (const rateHz of [48000, 44100]) {
    it(`gathers what cascades of filters did, within 0.0001 dB above -120 dBFS, at ${rateHz} Hz (seed ${SEED})`, () => {
      const sound = makeSound(rateHz);
      const meter = new CheckMeter(rateHz);
      for (let from = 0; from < sound.length; from += 1000) meter.add(sound.subarray(from, from + 1000));
      const curves = meter.result();
      const before = byCascades(sound, rateHz);
      expect(curves.peak).toEqual(before.peak);
      expect(curves.power).toEqual(before.power);
      for (const name of ['lowPower', 'brightPower'] as const) {
        expect(curves[name].length).toBe(160);
        curves[name].forEach((power, step) => {
          // Those rounded each filtered sample to single precision: 1e-7 of its size.
          const offDb = Math.abs(10 * Math.log10((power + 1e-12) / (before[name][step]! + 1e-12)));
          expect(offDb, `${name} at step ${step}`).toBeLessThan(0.0001);
        });
      }
    });
  }

  it('gathers the same in plain TypeScript, to the last bit', () => {
    const sound = makeSound(44100);
    const [kernel, plain] = [new CheckMeter(44100), new CheckMeter(44100, 'plain')];
    for (const meter of [kernel, plain]) meter.add(sound);
    expect(plain.result()).toEqual(kernel.result());
  });
});
