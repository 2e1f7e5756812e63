import { describe, expect, it } from 'vitest';
import { mendCentsAt, type TakeMend, warpedTakeSec } from '../../../core/pitch/mend.ts';
import { mendForOffset, mendForSink, nudgesFor } from '../../../core/pitch/mend-wishes.ts';
import { sessionSecOf } from '../../../core/signal/clock.ts';
import { Random } from '../../../core/signal/random.ts';

const clock = { offsetSec: 3.2, driftPpm: 30 };
const plain = { clock, mend: null };

/** Notes of half a second with what they are off and a spread about it. */
function notesOf(
  count: number,
  offAt: (sec: number) => number,
  spread: number,
  seed: number,
  mend: TakeMend | null = null,
) {
  const random = new Random(seed);
  return Array.from({ length: count }, (_, n) => {
    const sec = 2 + 0.5 * n;
    const off = offAt(sec) + spread * random.gaussian() + (mend === null ? 0 : mendCentsAt(mend, sec + 0.25));
    const at = (takeSec: number): number => sessionSecOf(clock, warpedTakeSec(mend, takeSec));
    return { fromSec: at(sec), toSec: at(sec + 0.5), offCents: off, uncertaintyCents: 0.5 };
  });
}

/** The same over a melody that climbs an octave and a half with steps to and fro, or note by note. */
function climbing(count: number, offAt: (share: number, key: number) => number, seed: number, isEven = false) {
  const random = new Random(seed);
  const notes = notesOf(count, () => 0, 0, seed);
  return notes.map((note, n) => {
    const share = n / (count - 1);
    const step = isEven ? 0 : [0, 4, -3, 5, -2, 2][random.uint32() % 6]!;
    const key = 60 + 18 * share + step;
    return { ...note, key, offCents: offAt(share, key) + 3 * random.gaussian() };
  });
}

describe('a curve where the melody climbs', () => {
  it('is not proposed for a voice that is flat on high notes, 1.5 cents a half tone', () => {
    let proposed = 0;
    for (let seed = 0; seed < 20; seed++) {
      if (
        mendForSink(
          climbing(80, (_, key) => -1.5 * (key - 69), seed),
          plain,
        ).length > 0
      )
        proposed++;
    }
    // One by chance.
    expect(proposed).toBeLessThanOrEqual(1);
  });

  it('holds what sinks by 20 cents beside it: within 6 cents at the end in 16 of 20 takes', () => {
    let near = 0;
    for (let seed = 0; seed < 20; seed++) {
      const curve = mendForSink(
        climbing(120, (share, key) => -20 * share - (key - 69), seed),
        plain,
      );
      if (Math.abs((curve.at(-1)?.cents ?? 0) - 20) <= 6) near++;
    }
    expect(near).toBeGreaterThanOrEqual(16);
  });

  it('is not proposed where every note is higher than the last, since nothing tells time from height', () => {
    expect(
      mendForSink(
        climbing(60, (share) => -25 * share, 1, true),
        plain,
      ),
    ).toEqual([]);
  });
});

describe('cents for a take as a whole', () => {
  it('bring the middle of its notes to where it is wanted within half a cent, whatever single notes do', () => {
    const notes = notesOf(60, (sec) => (sec < 5 ? 60 : -12), 3, 1);
    expect(Math.abs(mendForOffset(notes, plain) - 12)).toBeLessThanOrEqual(1);
  });

  it('stay as they are where nothing is surely off, and where the take is mended already', () => {
    expect(
      mendForOffset(
        notesOf(60, () => 1, 3, 2),
        plain,
      ),
    ).toBe(0);
    expect(
      mendForOffset(
        notesOf(20, () => 6, 20, 3),
        plain,
      ),
    ).toBe(0);
    const mend = { cents: 12, curve: [], nudges: [] };
    expect(
      mendForOffset(
        notesOf(60, () => -12, 3, 1, mend),
        { clock, mend },
      ),
    ).toBe(12);
    expect(
      mendForOffset(
        notesOf(60, () => -80, 3, 1),
        plain,
      ),
    ).toBe(50);
  });
});

describe('a curve against a pitch that sinks', () => {
  it('follows it within 3 cents with few points, and keeps the take where it began', () => {
    const sinks = (sec: number): number => 4 - 0.2 * sec;
    const curve = mendForSink(notesOf(240, sinks, 6, 4), plain);
    expect(curve.length).toBeGreaterThanOrEqual(2);
    expect(curve.length).toBeLessThanOrEqual(9);
    const mend = { cents: 0, curve, nudges: [] };
    for (let sec = 2; sec < 122; sec += 5) {
      expect(Math.abs(mendCentsAt(mend, sec) + sinks(sec) - sinks(2))).toBeLessThan(3);
    }
  });

  it('follows a pitch that sags in the middle', () => {
    const sags = (sec: number): number => -25 * Math.sin((Math.PI * (sec - 2)) / 120);
    const mend = { cents: 0, curve: mendForSink(notesOf(240, sags, 5, 5), plain), nudges: [] };
    for (let sec = 2; sec < 122; sec += 5) expect(Math.abs(mendCentsAt(mend, sec) + sags(sec))).toBeLessThan(4);
  });

  it('follows neither single notes nor what alternates, and is the same when it is in use already', () => {
    expect(
      mendForSink(
        notesOf(240, (sec) => (Math.abs(sec - 40) < 1 ? -60 : 0), 5, 6),
        plain,
      ),
    ).toEqual([]);
    expect(
      mendForSink(
        notesOf(240, (sec) => (Math.round(2 * sec) % 2 === 0 ? 20 : -20), 5, 7),
        plain,
      ),
    ).toEqual([]);
    const sinks = (sec: number): number => -0.2 * sec;
    const curve = mendForSink(notesOf(240, sinks, 6, 8), plain);
    const mend = { cents: 5, curve, nudges: [] };
    const again = mendForSink(notesOf(240, sinks, 6, 8, mend), { clock, mend });
    expect(again).toEqual(curve);
  });
});

describe('nudges for stretches that are early or late', () => {
  const lateOf = (lateAt: (n: number) => number, spread: number, seed: number, mend: TakeMend | null = null) => {
    const random = new Random(seed);
    return Array.from({ length: 60 }, (_, n) => {
      const sec = 2 + 0.5 * n;
      const shift = warpedTakeSec(mend, sec) - sec;
      return {
        sec: sessionSecOf(clock, sec + shift),
        lateMs: lateAt(n) + spread * random.gaussian() + 1000 * shift,
      };
    });
  };

  it('find where one begins and ends to a note, and by how much within 4 ms', () => {
    const notes = lateOf((n) => (n >= 20 && n < 32 ? 35 : n >= 45 && n < 50 ? -28 : 0), 7, 9);
    const nudges = nudgesFor(notes, plain);
    expect(nudges).toHaveLength(2);
    expect(Math.abs(nudges[0]!.byMs + 35)).toBeLessThanOrEqual(5);
    expect(Math.abs(nudges[1]!.byMs - 28)).toBeLessThanOrEqual(7);
    expect(nudges[0]!.fromSec).toBeCloseTo(2 + 0.5 * 20 - 0.03, 2);
    expect(nudges[0]!.toSec).toBeCloseTo(2 + 0.5 * 31 + 0.25, 2);
  });

  it('are none for single notes, for what is not heard, and for a spread; they are held within 60 ms', () => {
    expect(
      nudgesFor(
        lateOf((n) => (n === 30 ? 90 : 0), 7, 10),
        plain,
      ),
    ).toEqual([]);
    expect(
      nudgesFor(
        lateOf((n) => (n > 30 ? 8 : 0), 7, 11),
        plain,
      ),
    ).toEqual([]);
    expect(
      nudgesFor(
        lateOf(() => 0, 20, 12),
        plain,
      ),
    ).toEqual([]);
    expect(
      nudgesFor(
        lateOf((n) => (n >= 20 && n < 32 ? 90 : 0), 7, 13),
        plain,
      )[0]!.byMs,
    ).toBe(-60);
  });

  it('are the same once they are in use', () => {
    const late = (n: number): number => (n >= 20 && n < 32 ? 35 : 0);
    const nudges = nudgesFor(lateOf(late, 7, 14), plain);
    const mend = { cents: 0, curve: [], nudges };
    expect(nudgesFor(lateOf(late, 7, 14, mend), { clock, mend })).toEqual(nudges);
  });
});
