import { describe, expect, it } from 'vitest';
import { candidatesOf, makeCandidates } from '../../core/pitch/candidates.ts';
import { Difference } from '../../core/pitch/difference.ts';
import { findDips, makeDips } from '../../core/pitch/dips.ts';
import { intervalSize } from '../../core/pitch/just-intervals.ts';
import { centsOf } from '../../core/pitch/pitch-span.ts';
import { Random } from '../../core/signal/random.ts';
import { centsWithin, sortedSizes, tone, tracked } from '../core/pitch/pitch-kit.ts';

const RATE_HZ = 44100;
/** Sine, eight harmonics, and the same without the first: levels by partial. */
const TONES: readonly (readonly [string, readonly number[]])[] = [
  ['sine', [0.3]],
  ['8 harmonics', [1, 2, 3, 4, 5, 6, 7, 8].map((n) => 0.3 / n)],
  ['missing fundamental', [0, 0.15, 0.1, 0.075, 0.06, 0.05, 0.043, 0.0375]],
];

describe('pitch, by published cases', () => {
  // CV-6.4: the five pitches and three tones at which outside trackers were measured.
  it.each(TONES)('%s: 82.41, 110, 261.63, 440 and 880 Hz within 0.1 cent', (_, levels) => {
    for (const [hz, key] of [
      [82.4069, 40],
      [110, 45],
      [261.6256, 60],
      [440, 69],
      [880, 81],
    ] as const) {
      const cents = centsWithin(
        tracked(
          tone(() => hz, 0.6, levels, RATE_HZ),
          RATE_HZ,
        ),
        0.15,
        0.45,
        key,
      );
      expect(cents.length, `${hz} Hz`).toBeGreaterThan(25);
      expect(sortedSizes(cents)[cents.length >> 1], `${hz} Hz`).toBeLessThan(0.1);
    }
  });

  // de Cheveigne and Kawahara 2002, eq. 6 and 8, straight from their sums.
  it('has the difference function of its definition, to 1e-9', () => {
    const random = new Random(2);
    const window = Float64Array.from({ length: 64 }, () => random.gaussian());
    const difference = new Difference(64);
    difference.run(window);
    let sum = 0;
    for (let lag = 1; lag < 32; lag++) {
      let d = 0;
      for (let n = 0; n < 32; n++) d += (window[n]! - window[n + lag]!) ** 2;
      sum += d;
      expect(Math.abs(difference.normalised[lag]! - (d * lag) / sum)).toBeLessThan(1e-9);
    }
    expect(difference.normalised[0]).toBe(1);
  });

  // Mauch and Dixon 2014: the distribution of thresholds, by drawing them one by one.
  it('gives each dip the probability that a threshold drawn from Beta(2, 18) takes it, to 0.01', () => {
    const normalised = new Float64Array(40).fill(1);
    for (const [lag, depth] of [
      [10, 0.2],
      [20, 0.08],
      [30, 0.02],
    ] as const) {
      normalised[lag] = depth;
      normalised[lag - 1] = depth + 0.3;
      normalised[lag + 1] = depth + 0.3;
    }
    const found = candidatesOf(findDips(normalised, 2, 38, makeDips()), makeCandidates());
    const random = new Random(6);
    const counts = [0, 0, 0];
    const draws = 20_000;
    for (let n = 0; n < draws; n++) {
      // Beta(2, 18) as the second smallest of 19 uniform numbers.
      const sorted = Array.from({ length: 19 }, () => random.uniform()).sort((a, b) => a - b);
      const threshold = sorted[1]!;
      const dip = [0.2, 0.08, 0.02].findIndex((depth) => depth < threshold);
      if (dip >= 0) counts[dip]!++;
    }
    for (const [index, count] of counts.entries()) {
      expect(Math.abs(found.probabilities[index]! - count / draws)).toBeLessThan(0.01);
    }
  });

  // CV-6.1: ISO 16 and equal temperament; CV-6.2: just sizes.
  it('counts cents as published: A4 = 442 Hz is +7.8514, C4 -900; 5/4 is 386.3137, 3/2 701.955', () => {
    expect(centsOf(442)).toBeCloseTo(7.8514, 4);
    expect(centsOf(415)).toBeCloseTo(-101.2706, 4);
    expect(centsOf(261.6256)).toBeCloseTo(-900, 2);
    expect(intervalSize(4, 380).justCents).toBeCloseTo(386.3137, 4);
    expect(intervalSize(7, 700).justCents).toBeCloseTo(701.955, 4);
    expect(intervalSize(10, 965).justCents).toBeCloseTo(968.8259, 4);
  });
});
