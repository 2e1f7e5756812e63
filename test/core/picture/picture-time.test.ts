import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { parsePictureRate, perSecond, picturesWithin, rateForClips } from '../../../core/picture/picture-rate.ts';
import { bestPhase, stampExpression, worstOffsetSec } from '../../../core/picture/picture-time.ts';
import { sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';
import { Random } from '../../../core/signal/random.ts';
import { clipPicture } from './clip-kit.ts';

const place = fc.record({
  offsetSec: fc.double({ min: -50, max: 900, noNaN: true }),
  driftPpm: fc.double({ min: -300, max: 300, noNaN: true }),
});

/** What FFmpeg makes of the expression: doubles, then truncation. */
function evaluator(expression: string): (stamp: number) => number {
  const text = expression.replace(/^'(.*)'$/, '$1').replaceAll('if(', 'choose(');
  const choose = (isSo: number, one: number, other: number): number => (isSo === 0 ? other : one);
  const lt = (one: number, other: number): number => (one < other ? 1 : 0);
  const made = new Function('PTS', 'choose', 'lt', 'min', 'max', `return ${text}`);
  return (stamp) => Math.trunc(made(stamp, choose, lt, Math.min, Math.max));
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
          expect(Math.abs(evaluator(text)(stamp) / 1e6 - wanted)).toBeLessThan(2e-6);
        },
      ),
      { seed: 6 },
    );
  });

  it('follows a clock with 50 bends and jumps within 2 us, and its stamps never run back', () => {
    const random = new Random(6);
    const bends = Array.from({ length: 50 }, (_, n) => ({
      takeSec: 10 + 15 * n + 5 * random.uniform(),
      jumpSec: n % 3 === 0 ? 0 : 0.3 * (random.uniform() - 0.5),
      driftPpm: 2000 * (random.uniform() - 0.5),
    }));
    const at = { offsetSec: 3.21, driftPpm: -80, bends };
    const text = stampExpression(clipPicture({ zeroSec: 1.4 }), at, 2.25);
    const evaluate = evaluator(text);
    let last = Number.NEGATIVE_INFINITY;
    let worst = 0;
    for (let stamp = 1_400_000; stamp < 800_000_000; stamp += 13_367) {
      const takeSec = stamp / 1e6 - 1.4;
      const made = evaluate(stamp) / 1e6 + 2.25;
      if (made < last) throw new Error(`runs back at ${takeSec} s`);
      last = made;
      const wanted = sessionSecOf(at, takeSec);
      // Within a doubled stretch, of which a half is shown, the place is held.
      if (Math.abs(takeSecOf(at, wanted) - takeSec) < 1e-9) worst = Math.max(worst, Math.abs(made - wanted));
    }
    expect(worst).toBeLessThan(2e-6);
    expect(text.split('if(lt(PTS').length).toBe(51);
  });

  it('a clock that slides by half a picture costs half a picture, whatever the ends and the middle show', () => {
    const rate = { over: 30, under: 1 };
    // 1 picture in 100 s: whole pictures at beginning, middle and end of 200 s.
    const clip = { picture: clipPicture({ rate: 30 }), place: { offsetSec: 0, driftPpm: 333.333 } };
    expect(worstOffsetSec(clip, { fromSec: 0, toSec: 200 }, rate)).toBeCloseTo(1 / 60, 4);
    const bends = [{ takeSec: 50, jumpSec: 0.02, driftPpm: 0 }];
    const jumps = { picture: clipPicture({ rate: 30 }), place: { offsetSec: 0, driftPpm: 0, bends } };
    expect(worstOffsetSec(jumps, { fromSec: 0, toSec: 200 }, rate)).toBeCloseTo(0.4 / 30, 4);
    // 0.6 of a picture: at best both sides are off by 0.2.
    const fromSec = bestPhase(0, 200, rate, [jumps]);
    expect(worstOffsetSec(jumps, { fromSec, toSec: 200 }, rate)).toBeCloseTo(0.2 / 30, 3);
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
