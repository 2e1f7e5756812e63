import { describe, expect, it } from 'vitest';
import { makeColumns } from '../../../../renderer/lanes/wave-columns.ts';
import { curveOf, fillPitch, readCurve } from '../../../../renderer/steps/intonation/pitch-curve.ts';
import { noteNear } from '../../../../renderer/steps/intonation/pitch-overlay.ts';

const NONE = -32768;
const HOP_SEC = 0.01;
const FIRST_SEC = 20.0037;

/** 10 min of a slow wave of 30 cents, with a rest of 0.5 s in every 4 s. */
const long = Int16Array.from({ length: 60_000 }, (_, n) =>
  n % 400 >= 350 ? NONE : Math.round(300 * Math.sin(n / 700)),
);

describe('the columns of a pitch curve', () => {
  for (const secPerColumn of [0.002, 0.01, 0.05, 0.3, 0.6]) {
    it(`hold every value of their ${secPerColumn * 1000} ms, and no more than their neighbours`, () => {
      const curve = curveOf(5, HOP_SEC, long);
      const columns = makeColumns(1000);
      // Off the grid of values, so that none lies on the edge of two columns.
      fillPitch(columns, curve, FIRST_SEC, secPerColumn, 1000, null);
      for (let x = 0; x < 1000; x++) {
        const from = (FIRST_SEC + x * secPerColumn - 5) / HOP_SEC;
        const to = from + secPerColumn / HOP_SEC;
        const own = [...long.slice(Math.ceil(from), Math.ceil(to))].filter((value) => value !== NONE);
        if (own.length === 0) continue;
        expect(columns.known[x], `column ${x}`).toBe(1);
        expect(columns.low[x]!).toBeLessThanOrEqual(Math.min(...own));
        expect(columns.high[x]!).toBeGreaterThanOrEqual(Math.max(...own));
        // A column may reach into what lies a block of its level beside it, and to the column before.
        const wide = Math.ceil(to - from) + 4 ** Math.ceil(Math.log(Math.max(1, to - from)) / Math.log(4)) + 1;
        const near = [...long.slice(Math.max(0, Math.floor(from - wide)), Math.ceil(to + wide))].filter(
          (v) => v !== NONE,
        );
        expect(columns.low[x]!).toBeGreaterThanOrEqual(Math.min(...near) - 1);
        expect(columns.high[x]!).toBeLessThanOrEqual(Math.max(...near) + 1);
      }
    });
  }

  it('leave rests of half a second open, 50 ms a column', () => {
    const columns = makeColumns(80);
    fillPitch(columns, curveOf(0, HOP_SEC, long), 0, 0.05, 80, null);
    expect([...columns.known.slice(0, 70)].every((known) => known === 1)).toBe(true);
    expect([...columns.known.slice(71, 79)].some((known) => known === 1)).toBe(false);
  });

  it('are moved by what mending adds, in tenths of a cent', () => {
    const columns = makeColumns(10);
    fillPitch(columns, curveOf(0, HOP_SEC, new Int16Array(1000)), 0, 0.1, 10, (sec) => 100 * sec);
    expect(columns.low[9]).toBe(95);
  });
});

describe('a pitch curve from the desk', () => {
  it('is read as it was written, little endian', () => {
    const bytes = new ArrayBuffer(22);
    const view = new DataView(bytes);
    view.setFloat64(0, 1.5, true);
    view.setFloat64(8, 0.01, true);
    [-123, NONE, 45].forEach((value, n) => {
      view.setInt16(16 + 2 * n, value, true);
    });
    const curve = readCurve(bytes);
    expect(curve?.fromSec).toBe(1.5);
    expect([...(curve?.tenths ?? [])]).toEqual([-123, NONE, 45]);
  });

  it('is none when it is too short or has no steps', () => {
    expect(readCurve(new ArrayBuffer(8))).toBeNull();
    expect(readCurve(new ArrayBuffer(40))).toBeNull();
  });
});

describe('a click near a note', () => {
  const notes = [
    { fromSec: 1, toSec: 2 },
    { fromSec: 2, toSec: 3 },
    { fromSec: 4, toSec: 4.1 },
  ];
  it('takes the note that sounds there, else the nearest within the slack', () => {
    expect(noteNear(notes, 1.5, 0.1)).toBe(0);
    expect(noteNear(notes, 2.5, 0)).toBe(1);
    expect(noteNear(notes, 3.95, 0.1)).toBe(2);
    expect(noteNear(notes, 3.5, 0.1)).toBeNull();
    expect(noteNear([], 1, 1)).toBeNull();
  });
});
