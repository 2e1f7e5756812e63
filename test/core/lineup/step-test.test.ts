import { describe, expect, it } from 'vitest';
import { type Lateness, likeliestStep, stepAt } from '../../../core/lineup/step-test.ts';
import { Random } from '../../../core/signal/random.ts';

/** Stretches of 4 s of a player who strays and wanders, on a clock that steps after `at` of them. */
function played(seed: number, count: number, noise: { scatter: number; wander: number }, at = 0, step = 0): Lateness[] {
  const random = new Random(seed);
  const keep = Math.exp(-4 / 30);
  let wander = random.gaussian();
  return Array.from({ length: count }, (_, n) => {
    wander = keep * wander + Math.sqrt(1 - keep * keep) * random.gaussian();
    const laterSec = noise.wander * wander + noise.scatter * random.gaussian() + (n >= at ? step : 0);
    return { atSec: 4 * n + 2, laterSec, weight: 1 };
  });
}

describe('the test for a step in how late notes are', () => {
  it('gains less than 10 nepers by chance in 40 players of 10 min, steady and restless', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const steady = likeliestStep(played(seed, 150, { scatter: 0.005, wander: 0.005 }), [])!;
      const restless = likeliestStep(played(seed, 150, { scatter: 0.012, wander: 0.012 }), [])!;
      expect(Math.max(steady.gain, restless.gain), `seed ${seed}`).toBeLessThan(10);
    }
  });

  it('finds a step of 20 ms of a steady player within 8 s, and says how exactly it knows its size', () => {
    for (let seed = 1; seed <= 10; seed++) {
      const found = likeliestStep(played(seed, 150, { scatter: 0.003, wander: 0.003 }, 70, -0.02), [])!;
      expect(found.gain, `seed ${seed}`).toBeGreaterThan(10);
      expect(Math.abs(found.at - 70), `seed ${seed}`).toBeLessThanOrEqual(2);
      expect(Math.abs(found.stepSec + 0.02), `seed ${seed}`).toBeLessThan(3.5 * found.stepErrorSec);
    }
  });

  it('knows the size of a step at a known place to what it says, 2 standard deviations in 90 % of players and more', () => {
    let inside = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const { stepSec, stepErrorSec } = stepAt(played(seed, 100, { scatter: 0.006, wander: 0.006 }, 50, 0.03), 50, [])!;
      if (Math.abs(stepSec - 0.03) < 2 * stepErrorSec) inside++;
    }
    expect(inside).toBeGreaterThanOrEqual(54);
  });

  it('says nothing of a few stretches', () => {
    expect(likeliestStep(played(1, 6, { scatter: 0.005, wander: 0.005 }), [])).toBeUndefined();
    expect(stepAt([], 0, [])).toBeUndefined();
  });
});
