import { describe, expect, it } from 'vitest';
import { Random } from '../../../core/signal/random.ts';
import { makeExtremes } from '../../../core/wave/extremes.ts';

const SEED = 12;

describe('Extremes', () => {
  for (const engine of ['kernel', 'plain'] as const) {
    it(`are the lowest and the highest sample of a stretch of any length, and 0 between them (${engine}, seed ${SEED})`, () => {
      const random = new Random(SEED);
      const extremes = makeExtremes(engine);
      const samples = Float32Array.from({ length: 300 }, (_, n) => random.gaussian() + (n > 200 ? 9 : 0));
      extremes.take(samples);
      for (const [from, to] of [
        [0, 300],
        [3, 4],
        [7, 7],
        [1, 18],
        [210, 291],
      ] as const) {
        extremes.look(from, to);
        const part = samples.subarray(from, to);
        expect(extremes.lowest).toBe(Math.min(0, ...part));
        expect(extremes.highest).toBe(Math.max(0, ...part));
      }
      expect(extremes.isFinite).toBe(true);
    });

    it(`tell of a sample that is no finite number wherever it stands, and for good (${engine})`, () => {
      for (const strange of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]) {
        for (const at of [0, 5, 15, 16, 18]) {
          const extremes = makeExtremes(engine);
          const samples = new Float32Array(19).fill(0.25);
          samples[at] = strange;
          extremes.take(samples);
          extremes.look(0, at);
          expect(extremes.isFinite).toBe(true);
          extremes.look(0, samples.length);
          expect(extremes.isFinite, `${strange} at ${at}`).toBe(false);
          if (Number.isNaN(strange)) expect(extremes.highest).toBe(0.25);
          extremes.take(new Float32Array(19));
          extremes.look(0, 19);
          expect(extremes.isFinite).toBe(false);
        }
      }
    });
  }
});
