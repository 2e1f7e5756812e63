import { describe, expect, it } from 'vitest';
import { type Lateness, StepTest, stepAt } from '../../../core/lineup/step-test.ts';
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
  /** Mean over places and sizes of 10 to 30 ms of how much likelier a step is than none. */
  const meanOdds = (stretches: readonly Lateness[]): number => {
    const test = new StepTest(stretches);
    let sum = 0;
    let count = 0;
    for (let atSec = 8; atSec < 4 * stretches.length - 8; atSec += 6) {
      const gain = test.at(atSec)!;
      for (const stepSec of [-0.03, -0.02, -0.01, 0.01, 0.02, 0.03]) {
        sum += Math.exp(gain(stepSec));
        count++;
      }
    }
    return sum / count;
  };

  it('makes a step no likelier than none, 1 within a half on the mean of 40 players without any', () => {
    // The expectation of a likelihood ratio under its own null is 1; 40 players give it to some 0.2.
    let sum = 0;
    for (let seed = 1; seed <= 20; seed++) {
      sum += meanOdds(played(seed, 20, { scatter: 0.005, wander: 0.005 })) / 40;
      sum += meanOdds(played(seed, 20, { scatter: 0.012, wander: 0.012 })) / 40;
    }
    expect(sum).toBeLessThan(1.5);
    expect(sum).toBeGreaterThan(0.2);
  });

  it('makes a step of 20 ms of a steady player e^8 times likelier than none at its place, and unlikely 40 s away', () => {
    for (let seed = 1; seed <= 5; seed++) {
      const test = new StepTest(played(seed, 60, { scatter: 0.003, wander: 0.003 }, 30, -0.02));
      expect(test.at(120)!(-0.02), `seed ${seed}`).toBeGreaterThan(8);
      expect(test.at(120)!(0.02), `seed ${seed}`).toBeLessThan(0);
      expect(test.at(80)!(-0.02), `seed ${seed}`).toBeLessThan(test.at(120)!(-0.02) - 4);
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

  it('says a number also of a step that is 40 times the scatter, for it and against it', () => {
    const test = new StepTest(played(1, 300, { scatter: 0.002, wander: 0.001 }, 150, 0.096));
    expect(test.at(600)!(0.096)).toBeGreaterThan(200);
    expect(Number.isFinite(test.at(600)!(0.096))).toBe(true);
    expect(test.at(600)!(-0.096)).toBeLessThan(-200);
    expect(Number.isFinite(test.at(600)!(-0.096))).toBe(true);
  });

  it('says nothing of a few stretches', () => {
    expect(new StepTest(played(1, 2, { scatter: 0.005, wander: 0.005 })).at(4)).toBeUndefined();
    expect(new StepTest(played(1, 20, { scatter: 0.005, wander: 0.005 })).at(-3)).toBeUndefined();
    expect(stepAt([], 0, [])).toBeUndefined();
  });
});
