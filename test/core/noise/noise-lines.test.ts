import { describe, expect, it } from 'vitest';
import { framePlan } from '../../../core/noise/frame-plan.ts';
import { findLines } from '../../../core/noise/noise-lines.ts';
import { Random } from '../../../core/signal/random.ts';

/** Bins of peaks that stand 10 dB over the middle one of the bins 4 to 12 to each side, with these sorted, as it was looked for before. */
function bySorting(power: Float64Array): number[] {
  const bins: number[] = [];
  for (let k = 4; k < power.length - 4; k++) {
    if (!(power[k]! > power[k - 1]! && power[k]! >= power[k + 1]!)) continue;
    const around: number[] = [];
    for (let j = 4; j <= 12; j++) around.push(power[Math.max(1, k - j)]!, power[Math.min(power.length - 2, k + j)]!);
    around.sort((a, b) => a - b);
    if (power[k]! >= 10 * around[9]!) bins.push(k);
  }
  return bins;
}

describe('lines of a noise', () => {
  it('are the bins that sorting their neighbours finds, in 20 uneven noises and in silence (seeds 1 to 20)', () => {
    const plan = framePlan(24000);
    let lines = 0;
    for (let seed = 1; seed <= 20; seed++) {
      const random = new Random(seed);
      const power = Float64Array.from({ length: plan.bins }, (_, k) =>
        Math.exp(2 * random.gaussian() - (8 * k) / plan.bins + (k % 97 === 5 ? 3 : 0)),
      );
      // Equal bins, and none at all.
      power.fill(0.5, 300, 340);
      power.fill(0, 400, 440);
      power[420] = 1e-20;
      const bins = bySorting(power);
      lines += bins.length;
      const found = findLines(plan, power).lines.map(({ hz }) => Math.round((hz * plan.size) / plan.rateHz));
      expect(found, `seed ${seed}`).toEqual(bins);
    }
    expect(lines).toBeGreaterThan(400);
    expect(findLines(plan, new Float64Array(plan.bins)).lines).toEqual([]);
  });
});
