import { describe, expect, it } from 'vitest';
import { alignNotes } from '../../../core/pitch/align-notes.ts';
import type { ExpectedNote } from '../../../core/pitch/expected-note.ts';
import type { HeardNote } from '../../../core/pitch/heard-notes.ts';
import { matchEnsemble, type NamedVoice } from '../../../core/pitch/match-ensemble.ts';
import { hzOf } from '../../../core/pitch/pitch-span.ts';
import { tunedFromScore } from '../../../core/pitch/tuned-note.ts';

const KEYS = [60, 62, 64, 65, 67, 67, 69, 65, 64, 62, 60, 64];
const HOP_SEC = 0.01;

function expectedRow(keys: readonly number[], fromSec: number, noteSec: number): ExpectedNote[] {
  return keys.map((key, index) => ({
    atSec: fromSec + index * noteSec,
    endSec: fromSec + (index + 1) * noteSec,
    key,
    cents: 100 * (key - 69),
    bar: 1 + Math.floor(index / 4),
  }));
}

/** A voice that plays notes as given, without sound: its row of pitches and its notes are made up. */
function voiceOf(
  name: string,
  notes: readonly { fromSec: number; toSec: number; cents: number }[],
  offsetSec = 0,
): NamedVoice {
  const end = Math.max(...notes.map((note) => note.toSec)) + 1;
  const hz = new Float64Array(Math.round(end / HOP_SEC)).fill(Number.NaN);
  for (const note of notes) {
    for (let n = Math.round(note.fromSec / HOP_SEC); n < note.toSec / HOP_SEC; n++) hz[n] = hzOf(note.cents);
  }
  const heard = notes.map(
    (note): HeardNote => ({
      ...note,
      onsetSec: note.fromSec,
      onsetUncertaintySec: 0.005,
      hz: hzOf(note.cents),
      spreadCents: 1,
      uncertaintyCents: 0.5,
      vibrato: null,
      levelDbfs: -20,
    }),
  );
  const place = { offsetSec, driftPpm: 0 };
  return { name, row: { hopSec: HOP_SEC, firstSec: 0, hz }, notes: heard, place, placed: true };
}

function playedAs(
  expected: readonly ExpectedNote[],
  change: (note: ExpectedNote) => { lateSec: number; cents: number },
) {
  return expected.map((note) => {
    const { lateSec, cents } = change(note);
    return { fromSec: note.atSec + lateSec, toSec: note.endSec + lateSec - 0.03, cents: note.cents + cents };
  });
}

describe('matching notes to a score', () => {
  const expected = expectedRow(KEYS, 2, 0.5);

  it('finds each note when two are left out, one is added and the whole is 40 cents flat', () => {
    const heard = playedAs(expected, () => ({ lateSec: 0.02, cents: -40 }));
    const gone = heard.filter((_, index) => index !== 3 && index !== 8);
    gone.splice(5, 0, { fromSec: 4.4, toSec: 4.5, cents: 900 });
    const { heardOf } = alignNotes(gone, expected, true);
    expect(heardOf.filter((one) => one === null)).toHaveLength(2);
    expect([heardOf[3], heardOf[8]]).toEqual([null, null]);
  });

  it('finds tempo and beginning by itself: 20 % slower, 7 s later, within 30 ms', () => {
    const heard = playedAs(expected, () => ({ lateSec: 0, cents: 10 })).map(({ fromSec, toSec, cents }) => ({
      fromSec: 7 + 1.2 * fromSec,
      toSec: 7 + 1.2 * toSec,
      cents,
    }));
    const { shiftSec, stretch, heardOf } = alignNotes(heard, expected, false);
    expect(Math.abs(stretch - 1.2)).toBeLessThan(0.01);
    expect(Math.abs(shiftSec - 7)).toBeLessThan(0.03);
    expect(heardOf.every((one) => one !== null)).toBe(true);
  });

  it('takes a voice an octave lower than written for what it is', () => {
    const heard = playedAs(expected, () => ({ lateSec: 0, cents: -1195 }));
    expect(alignNotes(heard, expected, true).halfTones).toBe(-12);
    const [match] = matchEnsemble([voiceOf('bass', heard)], [{ name: 'Bass', notes: expected }], true);
    expect(match!.notes.every((note) => Math.abs(note.offCents - 5) < 0.5)).toBe(true);
  });

  it('measures two tied notes of one pitch each, though they were heard as one', () => {
    const heard = playedAs(expected, () => ({ lateSec: 0, cents: 3 }));
    heard[4] = { ...heard[4]!, toSec: heard[5]!.toSec };
    heard.splice(5, 1);
    const [match] = matchEnsemble([voiceOf('flute', heard)], [{ name: 'Flute', notes: expected }], true);
    expect(match!.notes).toHaveLength(expected.length);
    expect(match!.notes[5]!.onsetSec).toBeNull();
    expect(Math.abs(match!.notes[5]!.offCents - 3)).toBeLessThan(0.5);
  });

  it('tells the voices of a canon by their times, with a guide by itself, without one from the voice that fits best', () => {
    const parts = [0, 4, 8].map((fromSec, index) => ({
      name: `Voice ${index + 1}`,
      notes: expectedRow(KEYS, fromSec, 0.5),
    }));
    const order = [2, 0, 1];
    const voices = order.map((part) =>
      voiceOf(
        'clip',
        playedAs(parts[part]!.notes, () => ({ lateSec: 0.01, cents: 0 })),
        0,
      ),
    );
    expect(matchEnsemble(voices, parts, true).map((match) => match?.part)).toEqual(order);
    const named = order.map((part) => ({
      ...voiceOf(
        part === 1 ? 'two' : 'clip',
        playedAs(parts[part]!.notes, () => ({ lateSec: 0.01, cents: 0 })),
        3,
      ),
    }));
    const told = parts.map((part, index) => ({ ...part, name: index === 1 ? 'Two' : part.name }));
    // The first voice could be any of the three; that one is known by its name, and the others follow from their times.
    expect(matchEnsemble(named, told, false)[2]!.part).toBe(1);
  });

  it('says that a voice plays no part of the score', () => {
    const other = expectedRow([61, 73, 58, 70, 63, 75, 66, 54, 61, 73], 2, 0.5);
    const [match] = matchEnsemble(
      [
        voiceOf(
          'x',
          playedAs(other, () => ({ lateSec: 0, cents: 0 })),
        ),
      ],
      [{ name: 'Flute', notes: expected }],
      true,
    );
    expect(match).toBeNull();
  });

  it('takes a player who reads in another key for that, 2 half tones lower, 14 cents sharp, and only where it fits well', () => {
    const heard = playedAs(expected, () => ({ lateSec: 0.01, cents: -200 + 14 }));
    for (const clockKnown of [true, false]) {
      const [match] = matchEnsemble([voiceOf('clarinet', heard)], [{ name: 'Clarinet', notes: expected }], clockKnown);
      expect(match!.alignment.halfTones).toBe(-2);
      expect(match!.notes.every((note) => Math.abs(note.offCents - 14) < 0.5)).toBe(true);
      const [first] = tunedFromScore(match!.notes, match!.alignment);
      expect(first).toMatchObject({ key: KEYS[0]! - 2 });
      expect(first!.cents - first!.targetCents).toBeCloseTo(14, 0);
    }
  });

  it('says which notes are wrong: E for F and C for D, and measures neither as out of tune', () => {
    const wrong = new Map([
      [3, -100],
      [9, -200],
    ]);
    const heard = expected.map((note, index) => ({
      fromSec: note.atSec,
      toSec: note.endSec - 0.03,
      cents: note.cents + 5 + (wrong.get(index) ?? 0),
    }));
    for (const clockKnown of [true, false]) {
      const [match] = matchEnsemble([voiceOf('flute', heard)], [{ name: 'Flute', notes: expected }], clockKnown);
      expect(match!.wrong.map(({ expected: { key }, key: played }) => [key, played])).toEqual([
        [65, 64],
        [62, 60],
      ]);
      expect(match!.notes).toHaveLength(10);
      expect(match!.notes.every((note) => Math.abs(note.offCents - 5) < 0.5)).toBe(true);
    }
  });

  it('measures nothing in bars that were not played, and calls nothing wrong there', () => {
    const heard = playedAs(expected, () => ({ lateSec: 0, cents: 0 })).filter((_, index) => index < 4 || index >= 8);
    const [match] = matchEnsemble([voiceOf('flute', heard)], [{ name: 'Flute', notes: expected }], true);
    expect(match!.notes.map((note) => note.expected.bar)).toEqual([1, 1, 1, 1, 3, 3, 3, 3]);
    expect(match!.wrong).toEqual([]);
  });

  it('finds the notes of a repeat that was not played, where no guide holds the times', () => {
    // A A B as written, A B as played.
    const second = [67, 71, 72, 74, 76, 74, 72, 71, 69, 67, 65, 67];
    const written = expectedRow([...KEYS, ...KEYS, ...second], 0, 0.5);
    const played = expectedRow([...KEYS, ...second], 3, 0.5);
    const heard = playedAs(played, () => ({ lateSec: 0, cents: 8 }));
    const [match] = matchEnsemble([voiceOf('flute', heard)], [{ name: 'Flute', notes: written }], false);
    expect(match!.notes.length).toBe(24);
    expect(match!.notes.every((note) => Math.abs(note.offCents - 8) < 0.5)).toBe(true);
    expect(match!.notes.at(-1)!.expected).toMatchObject({ key: 67, bar: 9 });
    expect(match!.wrong).toEqual([]);
  });
});
