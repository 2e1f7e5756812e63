import { describe, expect, it } from 'vitest';
import type { NoteIntonation } from '../../../core/pitch/intonation.ts';
import { NO_PITCH, offCurve } from '../../../core/pitch/off-curve.ts';

const HOP_SEC = 0.01;

/** A note of A4 that was played `offCents` off, with the report's own reference of 440 Hz. */
function note(fromSec: number, toSec: number, offCents: number): NoteIntonation {
  const hz = 440 * 2 ** (offCents / 1200);
  return { fromSec, toSec, key: 69, bar: 1, hz, offCents, uncertaintyCents: 1, spreadCents: 2 };
}

/** A row of `sec` seconds whose pitch is `centsAt` off 440 Hz. */
function row(sec: number, centsAt: (sec: number) => number) {
  const hz = Float64Array.from(
    { length: Math.round(sec / HOP_SEC) },
    (_, n) => 440 * 2 ** (centsAt(n * HOP_SEC) / 1200),
  );
  return { hopSec: HOP_SEC, firstSec: 0, hz };
}

describe('offCurve', () => {
  it('follows a pitch within 0.1 cent of what it is off the wanted one', () => {
    const curve = offCurve(
      row(3, (sec) => 10 * sec),
      { offsetSec: 0, driftPpm: 0 },
      [note(1, 2, 15)],
    );
    expect(curve.fromSec).toBe(1);
    expect(curve.tenths.length).toBe(100);
    curve.tenths.forEach((value, n) => {
      expect(Math.abs(value / 10 - 10 * (1 + n * HOP_SEC))).toBeLessThanOrEqual(0.11);
    });
  });

  it('lies on the session clock, 2 s later and with the 1.7 cents that a clock of 1000 ppm adds', () => {
    const place = { offsetSec: 2, driftPpm: 1000 };
    const curve = offCurve(
      row(3, (sec) => (sec < 1 ? -20 : 20)),
      place,
      [note(2.2, 3.8, 0)],
    );
    const at = (sec: number): number => curve.tenths[Math.round((sec - curve.fromSec) / HOP_SEC)]! / 10;
    expect(at(2.5)).toBeCloseTo(-18.3, 1);
    expect(at(3.5)).toBeCloseTo(21.7, 1);
  });

  it('has no pitch between notes, where none was heard, and an octave off', () => {
    const heard = row(3, (sec) => (sec > 2.5 ? 1200 : 0));
    heard.hz.fill(Number.NaN, 20, 30);
    const curve = offCurve(heard, { offsetSec: 0, driftPpm: 0 }, [note(0, 1, 0), note(2, 3, 0)]);
    const known = [...curve.tenths].map((value) => value !== NO_PITCH);
    expect(known.slice(0, 20).every(Boolean)).toBe(true);
    expect(known.slice(20, 30).some(Boolean)).toBe(false);
    expect(known.slice(101, 199).some(Boolean)).toBe(false);
    expect(known.slice(252).some(Boolean)).toBe(false);
  });

  it('is empty without notes', () => {
    expect(
      offCurve(
        row(1, () => 0),
        { offsetSec: 0, driftPpm: 0 },
        [],
      ).tenths.length,
    ).toBe(0);
  });
});
