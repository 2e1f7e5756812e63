import { describe, expect, it } from 'vitest';
import { composedPitch, type PlacedPitch } from '../../../app/desk/composed-pitch.ts';
import type { HeardNote } from '../../../core/pitch/heard-notes.ts';

const HOP_SEC = 0.01;

/** A take of 10 s at one pitch, with a note in every second. */
function take(takeId: string, hz: number, place: PlacedPitch['place'], kind: 'pitched' | 'unsure'): PlacedPitch {
  const notes = Array.from(
    { length: 10 },
    (_, sec): HeardNote => ({
      fromSec: sec + 0.1,
      toSec: sec + 0.9,
      onsetSec: sec + 0.12,
      onsetUncertaintySec: 0.01,
      hz,
      cents: 1200 * Math.log2(hz / 440),
      spreadCents: 1,
      uncertaintyCents: 1,
      vibrato: null,
      levelDbfs: -20,
    }),
  );
  return {
    takeId,
    place,
    tracked: {
      hopSec: HOP_SEC,
      firstSec: 0,
      frames: 1000,
      notes,
      verdict: { kind, pitchedShare: 0.8, sentence: kind },
    },
    row: { hopSec: HOP_SEC, firstSec: 0, hz: new Float64Array(1000).fill(hz) },
  };
}

const takes = [
  take('t1', 440, { offsetSec: 0, driftPpm: 0 }, 'pitched'),
  take('t2', 220, { offsetSec: 2, driftPpm: 100 }, 'unsure'),
];
const passages = [
  { takeId: 't1', fromSec: 0, toSec: 5 },
  { takeId: 't2', fromSec: 5, toSec: 12 },
];

describe('the pitch of a voice made of passages', () => {
  const { tracked, row } = composedPitch(takes, passages);

  it('is that of the take which sounds, on the session’s clock', () => {
    const at = (sec: number): number => row.hz[Math.round((sec - row.firstSec) / HOP_SEC)]!;
    expect(at(4.9)).toBe(440);
    expect(at(5.1)).toBeCloseTo(220 * 1.0001, 6);
    expect(row.firstSec).toBe(0);
    expect(row.hz.length).toBe(1200);
  });

  it('has the notes of each passage only, in order, at their session times and pitches', () => {
    expect(tracked.notes.map(({ hz }) => Math.round(hz))).toEqual([...Array(5).fill(440), ...Array(7).fill(220)]);
    expect(tracked.notes[5]!.fromSec).toBeCloseTo(2 + 3.1 / 1.0001, 9);
    // 100 ppm are 0.173 cents.
    expect(tracked.notes[5]!.cents).toBeCloseTo(-1200 + 0.173, 3);
  });

  it('is known no better than that of its worst take', () => {
    expect(tracked.verdict.kind).toBe('unsure');
  });
});
