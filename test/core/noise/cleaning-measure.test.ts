import { describe, expect, it } from 'vitest';
import { CleaningMeasure } from '../../../core/noise/cleaning-measure.ts';
import { learnNoise } from '../../../core/noise/learn.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';

const SEED = 31;
const random = new Random(SEED);
const noise = Float32Array.from({ length: 6 * 48000 }, () => 0.01 * random.gaussian());
const silence = { fromFrame: 0, toFrame: noise.length };

/** The index for a cleaning that leaves `left` of the noise. */
function indexOf(left: (sample: number, n: number) => number): number {
  const learnt = learnNoise(soundOf(noise, 48000), [silence]);
  if (learnt.kind !== 'learnt') throw new Error(learnt.reason);
  const measure = new CleaningMeasure(learnt.profile, [silence]);
  const cleaned = noise.map(left);
  measure.add(
    cleaned,
    noise.map((sample, n) => sample - cleaned[n]!),
  );
  return measure.result().kurtosisRatio;
}

describe('the musical-noise index', () => {
  it('is 1 within 0.01 where the noise is only turned down', () => {
    expect(
      indexOf((sample) => 0.05 * sample),
      `seed ${SEED}`,
    ).toBeCloseTo(1, 2);
  });

  it('is above 10 where one short tone a second stands out of the rest, though most windows are clean', () => {
    const tone = (n: number): number => (n % 48000 < 4800 ? 0.003 * Math.sin(n / 5) : 0);
    expect(
      indexOf((sample, n) => 0.05 * sample + tone(n)),
      `seed ${SEED}`,
    ).toBeGreaterThan(10);
  });
});
