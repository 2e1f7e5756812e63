import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { parsePictureRate, perSecond, picturesWithin, rateForClips } from '../../../core/picture/picture-rate.ts';
import { bestPhase, stampExpression, worstOffsetSec } from '../../../core/picture/picture-time.ts';
import { sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';
import { clipPicture } from './clip-kit.ts';

const place = fc.record({
  offsetSec: fc.double({ min: -50, max: 900, noNaN: true }),
  driftPpm: fc.double({ min: -300, max: 300, noNaN: true }),
});

/** What FFmpeg makes of the expression: doubles, then truncation. */
function evaluate(expression: string, stamp: number): number {
  const parts = /^PTS(?:\*([\d.]+))?([+-])([\d.]+)$/.exec(expression)!;
  const scaled = stamp * Number(parts[1] ?? 1);
  return Math.trunc(parts[2] === '-' ? scaled - Number(parts[3]) : scaled + Number(parts[3]));
}

describe('time of pictures', () => {
  it('turns clip time to session time and back within 1 ns for 15 min', () => {
    fc.assert(
      fc.property(place, fc.double({ min: 0, max: 900, noNaN: true }), (at, clipSec) => {
        expect(takeSecOf(at, sessionSecOf(at, clipSec))).toBeCloseTo(clipSec, 9);
      }),
      { seed: 6 },
    );
  });

  it('stamps a picture where its sound lies, within 2 us after 15 min with drift', () => {
    fc.assert(
      fc.property(
        place,
        fc.integer({ min: 0, max: 900_000_000 }),
        fc.double({ min: -3, max: 30, noNaN: true }),
        (at, stamp, zeroSec) => {
          const fromSec = 2.25;
          const text = stampExpression(clipPicture({ zeroSec }), at, fromSec);
          const wanted = sessionSecOf(at, stamp / 1e6 - zeroSec) - fromSec;
          // Rounded to a microsecond, with a slope of 12 decimals.
          expect(Math.abs(evaluate(text, stamp) / 1e6 - wanted)).toBeLessThan(2e-6);
        },
      ),
      { seed: 6 },
    );
  });

  it('knows 29.97 as 30000/1001 and refuses 31', () => {
    expect(parsePictureRate('29.97')).toEqual({ over: 30000, under: 1001 });
    expect(parsePictureRate('30000/1001')).toEqual({ over: 30000, under: 1001 });
    expect(parsePictureRate('25')).toEqual({ over: 25, under: 1 });
    expect(() => parsePictureRate('31')).toThrow(/picture rate/);
  });

  it('takes the rate of the fastest clip, 60 at most, and 30 where none tells', () => {
    expect(perSecond(rateForClips([25, 29.97]))).toBeCloseTo(29.97, 3);
    expect(perSecond(rateForClips([26.1]))).toBeCloseTo(29.97, 3);
    expect(perSecond(rateForClips([120, 30]))).toBe(60);
    expect(perSecond(rateForClips([0]))).toBe(30);
  });

  it('counts 1799 pictures in 60 s less one picture at 29.97 and 1798 in 60 s', () => {
    const ntsc = { over: 30000, under: 1001 };
    expect(picturesWithin(60.06, ntsc)).toBe(1800);
    expect(picturesWithin(60, ntsc)).toBe(1798);
  });

  it('shifts the beginning so that a single clip of the canvas rate is exact', () => {
    const clip = { picture: clipPicture({ rate: 30 }), place: { offsetSec: 0.0123, driftPpm: 0 } };
    const rate = { over: 30, under: 1 };
    const fromSec = bestPhase(1, 10, rate, [clip]);
    expect(fromSec - 1).toBeLessThan(1 / 30);
    // One of 240 phases of a picture.
    expect(worstOffsetSec(clip, { fromSec, toSec: 10 }, rate)).toBeLessThan(1 / 30 / 240);
  });

  it('never promises more than half a picture, and keeps away from ties', () => {
    fc.assert(
      fc.property(
        fc.array(place, { minLength: 1, maxLength: 8 }),
        fc.constantFrom(25, 30, 60, 50),
        fc.constantFrom(25, 30, 60),
        (places, clipRate, over) => {
          const rate = { over, under: 1 };
          const clips = places.map((one) => ({ picture: clipPicture({ rate: clipRate }), place: one }));
          const fromSec = bestPhase(2, 60, rate, clips);
          for (const clip of clips) {
            expect(worstOffsetSec(clip, { fromSec, toSec: 60 }, rate)).toBeLessThanOrEqual(0.5 / over + 1e-12);
          }
        },
      ),
      { seed: 6, numRuns: 40 },
    );
  });
});
