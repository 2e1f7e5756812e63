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

  describe('of a take in which the guide is heard faintly from the headphones', () => {
    // Tones to tune to before a rest and after the end, 24 LU under the music, as they leak in real takes.
    const leaking = (beginLufs: number, endLufs: number) =>
      curve(
        [
          [2, -70],
          [6, -47],
          [5, -70],
          [2, beginLufs],
          [20, -23],
          [2, endLufs],
          [1.5, -70],
          [5, -47],
          [1, -70],
        ],
        -23,
      );

    it('begins and ends with the music, not with what leaks 24 LU under it', () => {
      const span = findMusicSpan(leaking(-23, -23), 0)!;
      expect(span.fromSec).toBeGreaterThan(12.4);
      expect(span.fromSec).toBeLessThan(13.1);
      expect(span.toSec).toBeGreaterThan(36.8);
      expect(span.toSec).toBeLessThan(37.5);
    });

    it('keeps a soft entry and a soft close 20 LU under the rest', () => {
      const span = findMusicSpan(leaking(-43, -43), 0)!;
      expect(span.fromSec).toBeLessThan(13.1);
      expect(span.fromSec).toBeGreaterThan(12.4);
      expect(span.toSec).toBeGreaterThan(36.8);
      expect(span.toSec).toBeLessThan(37.5);
    });

    it('holds to where the piece lies, however loudly it leaks', () => {
      const loud = curve(
        [
          [2, -70],
          [6, -38],
          [5, -70],
          [24, -23],
          [1.5, -70],
          [5, -38],
          [1, -70],
        ],
        -23,
      );
      const span = findMusicSpan(loud, 0, { fromSec: 13, toSec: 37 })!;
      expect(span.fromSec).toBeGreaterThan(12.4);
      expect(span.fromSec).toBeLessThan(13.1);
      expect(span.toSec).toBeGreaterThan(36.8);
      expect(span.toSec).toBeLessThan(37.5);
    });
  });

  it('keeps a last note that is held 2 s beyond where the piece ends, and one that begins 1 s before', () => {
    const take = curve(
      [
        [9, -70],
        [20, -23],
        [5, -70],
      ],
      -23,
    );
    const span = findMusicSpan(take, 0, { fromSec: 10, toSec: 27 })!;
    expect(span.fromSec).toBeLessThan(9.1);
    expect(span.toSec).toBeGreaterThan(28.8);
  });

  it('finds the first entry of a voice that rests for half of the piece', () => {
    const take = curve(
      [
        [10, -70],
        [15, -47],
        [15, -23],
        [5, -70],
      ],
      -23,
    );
    expect(findMusicSpan(take, 0, { fromSec: 10, toSec: 40 })!.fromSec).toBeGreaterThan(24.4);
  });

  it('follows a note that swells out of nothing back to where it began, 3 s before', () => {
    const swell = Array.from({ length: 30 }, (_, n) => [0.1, -62 + n * 1.3] as const);
    const span = findMusicSpan(curve([[5, -70], ...swell, [20, -23], [3, -70]], -23), 0)!;
    expect(span.fromSec).toBeGreaterThan(4.4);
    expect(span.fromSec).toBeLessThan(5.5);
  });

  it('does not take noise 23 LU under the music for music', () => {
    const noise = (seconds: number) =>
      Array.from({ length: seconds * 10 }, (_, n) => [0.1, -45.5 + 1.5 * Math.sin(n * n)] as const);
    const span = findMusicSpan(curve([...noise(10), [20, -23], ...noise(10)], -23), 0)!;
    expect(span.fromSec).toBeGreaterThan(9.4);
    expect(span.toSec).toBeLessThan(30.5);
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
