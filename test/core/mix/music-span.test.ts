import { describe, expect, it } from 'vitest';
import { findMusicSpan } from '../../../core/mix/music-span.ts';

/** A curve from stretches of [seconds, LUFS], one value each 0.1 s. */
function curve(stretches: readonly (readonly [number, number])[], integratedLufs: number) {
  const momentaryLufs = stretches.flatMap(([seconds, lufs]) =>
    Array.from({ length: Math.round(seconds * 10) }, () => lufs),
  );
  return { momentaryLufs, stepSec: 0.1, integratedLufs };
}

describe('findMusicSpan', () => {
  it('begins at the first lasting sound, not at a clap, a knock or a cough', () => {
    const take = curve(
      [
        [3, -70],
        [0.4, -25],
        [2, -70],
        [0.3, -30],
        [2, -70],
        [20, -23],
        [4, -70],
      ],
      -23,
    );
    const span = findMusicSpan(take, 0);
    expect(span!.fromSec).toBeGreaterThan(7.0);
    expect(span!.fromSec).toBeLessThan(7.8);
    expect(span!.toSec).toBeGreaterThan(27.5);
    expect(span!.toSec).toBeLessThan(28);
  });

  it('follows a tail down, but no longer than 4 s', () => {
    const decay = Array.from({ length: 80 }, (_, n) => [0.1, -23 - n * 0.45] as const);
    const span = findMusicSpan(curve([[1, -70], [10, -23], ...decay, [2, -75]], -23), 0);
    expect(span!.toSec).toBeGreaterThan(14);
    expect(span!.toSec).toBeLessThan(19.5);
  });

  it('does not look before the time it is given', () => {
    const take = curve(
      [
        [1, -70],
        [3, -30],
        [2, -70],
        [10, -23],
      ],
      -23,
    );
    expect(findMusicSpan(take, 4.5)!.fromSec).toBeGreaterThan(5);
  });

  it('says undefined for a take in which nothing lasts', () => {
    expect(
      findMusicSpan(
        curve(
          [
            [5, -70],
            [0.3, -20],
            [5, -70],
          ],
          -25,
        ),
        0,
      ),
    ).toBeUndefined();
    expect(findMusicSpan(curve([[5, Number.NEGATIVE_INFINITY]], Number.NEGATIVE_INFINITY), 0)).toBeUndefined();
  });
});
