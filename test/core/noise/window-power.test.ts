import { describe, expect, it } from 'vitest';
import { framePlan } from '../../../core/noise/frame-plan.ts';
import { makeWindowPower } from '../../../core/noise/window-power.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 17;

describe('WindowPower', () => {
  for (const rateHz of [16000, 44100, 48000, 96000]) {
    it(`gives the same spectra in the kernel and in plain TypeScript at ${rateHz} Hz, -110 dB`, () => {
      const plan = framePlan(rateHz);
      const random = new Random(SEED);
      const samples = Float32Array.from({ length: plan.size }, () => random.gaussian());
      const [kernel, plain] = (['kernel', 'plain'] as const).map((engine) => {
        const spectra = makeWindowPower(plan, engine);
        spectra.samples.set(samples);
        spectra.run();
        return spectra.power;
      });
      let off = 0;
      let sum = 0;
      for (let k = 0; k < plan.bins; k++) {
        off += (kernel![k]! - plain![k]!) ** 2;
        sum += plain![k]! ** 2;
      }
      // Single precision: 2^-24 a step, a dozen steps.
      expect(10 * Math.log10(off / sum), `seed ${SEED}`).toBeLessThan(-110);
    });
  }
});
