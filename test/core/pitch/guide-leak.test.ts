import { describe, expect, it } from 'vitest';
import { withoutLeaks } from '../../../core/pitch/guide-leak.ts';
import type { HeardNote } from '../../../core/pitch/heard-notes.ts';
import { hzOf } from '../../../core/pitch/pitch-span.ts';

const PLACE = { offsetSec: 3, driftPpm: 0 };
const HOP_SEC = 0.01;

function noteOf(fromSec: number, cents: number, levelDbfs: number): HeardNote {
  const times = { fromSec, toSec: fromSec + 0.5, onsetSec: fromSec, onsetUncertaintySec: 0.005 };
  return { ...times, hz: hzOf(cents), cents, spreadCents: 1, uncertaintyCents: 0.5, vibrato: null, levelDbfs };
}

/** Eight notes of its own at -20 dBFS from 10 s of the take on, and one more at 5 s of it. */
function withOne(one: HeardNote) {
  const notes = [one, ...Array.from({ length: 8 }, (_, n) => noteOf(10 + 0.5 * n, 0, -20))];
  const hz = new Float64Array(1500).fill(Number.NaN);
  for (const { fromSec, toSec, hz: own } of notes) hz.fill(own, fromSec / HOP_SEC, toSec / HOP_SEC);
  return { row: { hopSec: HOP_SEC, firstSec: 0, hz }, notes, place: PLACE };
}

/** The guide plays A4 + 300 cents where the first note lies, session time 8 s, and the voice's own notes from 13 s on. */
const GUIDE = [
  { atSec: 8, endSec: 8.5, cents: 300 },
  ...Array.from({ length: 8 }, (_, n) => ({ atSec: 13 + 0.5 * n, endSec: 13.5 + 0.5 * n, cents: 0 })),
];

describe('what leaks of the guide', () => {
  it('goes where it lies 26 dB under the voice at the pitch the guide plays, from notes and row', () => {
    const voice = withOne(noteOf(5.05, 296, -46));
    const { voice: own, leaked } = withoutLeaks(voice, GUIDE);
    expect(leaked).toBe(1);
    expect(own.notes).toEqual(voice.notes.slice(1));
    expect(own.row.hz.subarray(0, 600).every(Number.isNaN)).toBe(true);
    expect(own.row.hz.subarray(600)).toEqual(voice.row.hz.subarray(600));
    expect(Number.isNaN(voice.row.hz[520]!)).toBe(false);
  });

  it.each([
    ['a soft note 20 dB under the rest', noteOf(5.05, 300, -40)],
    ['a faint note half a tone off', noteOf(5.05, 200, -46)],
    ['a faint note 40 cents off', noteOf(5.05, 340, -46)],
    ['a faint note where the guide is silent', noteOf(6.5, 300, -46)],
    ['a faint note half a second early', noteOf(4.5, 300, -46)],
  ])('keeps %s', (_, one) => {
    const voice = withOne(one);
    const got = withoutLeaks(voice, GUIDE);
    expect(got.leaked).toBe(0);
    expect(got.voice).toBe(voice);
  });

  it('keeps a take that holds nothing else, and one without notes', () => {
    const faint = { ...withOne(noteOf(5.05, 300, -60)), notes: [noteOf(5.05, 300, -60)] };
    expect(withoutLeaks(faint, GUIDE).leaked).toBe(0);
    expect(withoutLeaks({ ...faint, notes: [] }, GUIDE).leaked).toBe(0);
  });
});
