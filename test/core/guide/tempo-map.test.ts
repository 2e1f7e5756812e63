import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { TempoMap } from '../../../core/guide/tempo-map.ts';

/** Seconds by plain numerical integration of 60 / v(q), midpoint rule in steps of 1e-4 quarters. */
function integrated(tempoAt: (quarters: number) => number, toQuarters: number): number {
  const steps = Math.round(toQuarters * 1e4);
  let sec = 0;
  for (let n = 0; n < steps; n++) sec += (60 / tempoAt((n + 0.5) / 1e4)) * 1e-4;
  return sec;
}

describe('the tempo map', () => {
  it('counts 120 quarters a minute as half a second each, before 0 too', () => {
    const map = new TempoMap([{ atQuarters: 0, quartersPerMinute: 120, glides: false }]);
    expect(map.secAt(7)).toBe(3.5);
    expect(map.secAt(-4)).toBe(-2);
    expect(map.quartersAt(-2)).toBe(-4);
  });

  it('follows a ritardando from 96 to 60 over 8 quarters within a frame (1/48 000 s) of the integral', () => {
    const map = new TempoMap([
      { atQuarters: 0, quartersPerMinute: 96, glides: false },
      { atQuarters: 16, quartersPerMinute: 96, glides: true },
      { atQuarters: 24, quartersPerMinute: 60, glides: false },
    ]);
    for (const at of [4, 16, 17, 20, 23.5, 24, 30]) {
      const tempo = (q: number): number => (q < 16 ? 96 : q < 24 ? 96 - (36 * (q - 16)) / 8 : 60);
      expect(Math.abs(map.secAt(at) - integrated(tempo, at))).toBeLessThan(1 / 48000);
    }
    // By hand: 16 quarters at 96 are 10 s; (60 / -4.5) ln(60 / 96) s for the ritardando.
    expect(map.secAt(24)).toBeCloseTo(10 + (60 / -4.5) * Math.log(60 / 96), 12);
  });

  it('waits at a fermata; what stands there sounds after it', () => {
    const map = new TempoMap([{ atQuarters: 0, quartersPerMinute: 60, glides: false }], [{ atQuarters: 4, sec: 1.5 }]);
    expect(map.secAt(3.999)).toBeCloseTo(3.999, 12);
    expect(map.secAt(4)).toBe(5.5);
    expect(map.secAt(6)).toBe(7.5);
    expect(map.quartersAt(4.7)).toBe(4);
    expect(map.quartersAt(7.5)).toBe(6);
  });

  it('finds the position back to 1e-9 quarters for any marks and holds', () => {
    const mark = fc.record({
      atQuarters: fc.integer({ min: 0, max: 400 }).map((n) => n / 4),
      quartersPerMinute: fc.integer({ min: 20, max: 300 }),
      glides: fc.boolean(),
    });
    const hold = fc.record({ atQuarters: fc.integer({ min: 1, max: 100 }), sec: fc.integer({ min: 0, max: 5 }) });
    fc.assert(
      fc.property(
        fc.array(mark, { minLength: 1, maxLength: 12 }),
        fc.array(hold, { maxLength: 4 }),
        fc.double({ min: -8, max: 200, noNaN: true }),
        (marks, holds, at) => {
          const map = new TempoMap(marks, holds);
          expect(Math.abs(map.quartersAt(map.secAt(at)) - at)).toBeLessThan(1e-9);
        },
      ),
      { seed: 11, numRuns: 400 },
    );
  });

  it('never runs backwards', () => {
    const map = new TempoMap(
      [
        { atQuarters: 2, quartersPerMinute: 90, glides: true },
        { atQuarters: 5, quartersPerMinute: 200, glides: true },
        { atQuarters: 9, quartersPerMinute: 40, glides: false },
      ],
      [{ atQuarters: 6, sec: 2 }],
    );
    let before = map.secAt(-1);
    for (let at = -0.99; at < 12; at += 0.01) {
      const sec = map.secAt(at);
      expect(sec).toBeGreaterThan(before);
      before = sec;
    }
    expect(map.tempoAt(7)).toBeCloseTo(200 - 160 / 2, 9);
  });

  it('refuses no tempo, and one outside 5 to 1000', () => {
    expect(() => new TempoMap([])).toThrow(RangeError);
    expect(() => new TempoMap([{ atQuarters: 0, quartersPerMinute: 2, glides: false }])).toThrow(
      /quartersPerMinute is 2/,
    );
  });
});
