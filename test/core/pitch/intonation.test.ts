import { describe, expect, it } from 'vitest';
import { intonationReport } from '../../../core/pitch/intonation.ts';
import { intervalSize } from '../../../core/pitch/just-intervals.ts';
import { hzOf } from '../../../core/pitch/pitch-span.ts';
import { type TunedNote, type TunedVoice, tunedFromKeys } from '../../../core/pitch/tuned-note.ts';
import { Random } from '../../../core/signal/random.ts';

/** A voice of notes half a second long; off: cents and lateness of each. */
function voice(
  name: string,
  keys: readonly number[],
  off: (index: number) => number,
  lateSec: (index: number) => number = () => 0,
): TunedVoice {
  const notes = keys.map(
    (key, index): TunedNote => ({
      fromSec: index * 0.5,
      toSec: index * 0.5 + 0.48,
      key,
      cents: 100 * (key - 69) + off(index),
      targetCents: 100 * (key - 69),
      spreadCents: 2,
      uncertaintyCents: 0.5,
      bar: 1 + Math.floor(index / 4),
      onsetSec: index * 0.5 + lateSec(index),
      onsetUncertaintySec: 0.004,
      expectedSec: index * 0.5,
    }),
  );
  return { id: name, name, notes };
}

const HIGH = [72, 74, 76, 77, 79, 76, 74, 72, 79, 81, 83, 84, 79, 77, 76, 74];
const LOW = HIGH.map((key) => key - 12);

describe('intonation', () => {
  it("finds the ensemble's reference within 1 cent from voices 8 cents apart", () => {
    const random = new Random(4);
    const spread = (centre: number) => () => centre + 3 * random.gaussian();
    const report = intonationReport([voice('a', HIGH, spread(12)), voice('b', LOW, spread(4))], { referenceHz: null })!;
    expect(Math.abs(report.reference.cents - 8)).toBeLessThan(1);
    expect(report.reference.hz).toBeCloseTo(hzOf(report.reference.cents), 6);
    expect(Math.abs(report.voices[0]!.centreCents! - 4)).toBeLessThan(1.5);
    expect(report.reference.uncertaintyCents).toBeLessThan(1.5);
  });

  it('holds notes against a given reference: A4 = 442 Hz is 7.85 cents above 440', () => {
    const report = intonationReport([voice('a', HIGH, () => 0)], { referenceHz: 442 })!;
    expect(report.voices[0]!.notes[0]!.offCents).toBeCloseTo(-7.8514, 3);
    expect(report.reference.hz).toBeCloseTo(440, 6);
  });

  it('follows a whole that sinks by 20 cents within 3 cents, and says that a voice does', () => {
    const sinking = (index: number): number => -20 * (index / 15);
    const report = intonationReport([voice('a', HIGH, sinking), voice('b', LOW, sinking)], { referenceHz: null })!;
    expect(Math.abs(report.drift!.totalCents + 20)).toBeLessThan(3);
    expect(report.voices[0]!.habits.map((habit) => habit.kind)).toContain('sinks');
    expect(report.voices[0]!.habits[0]!.sentence).toContain('sinks by');
  });

  it('tells a voice that is flat on high notes from one that is flat all through', () => {
    const flatHigh = voice('flute', HIGH, (index) => -1.5 * (HIGH[index]! - 72) + (index % 3) - 1);
    const flat = voice('oboe', HIGH, (index) => -25 + (index % 3) - 1);
    const steady = voice('horn', LOW, (index) => (index % 3) - 1);
    const report = intonationReport([flatHigh, flat, steady], { referenceHz: 440 })!;
    expect(report.voices[0]!.habits.map((habit) => habit.kind)).toContain('flatHigh');
    expect(report.voices[1]!.habits.map((habit) => habit.kind)).toEqual(['lowAll']);
    expect(report.voices[2]!.habits).toEqual([]);
  });

  it('puts the chord that is 30 cents off first, with its bar and its two voices, and flags no just third', () => {
    const top = voice('top', HIGH, (index) => (index === 6 ? 30 : -13.7));
    const bottom = voice(
      'bottom',
      HIGH.map((key) => key - 4),
      () => 0,
    );
    const { worstChords, chordsMeasured } = intonationReport([top, bottom], { referenceHz: null })!;
    expect(chordsMeasured).toBe(16);
    expect(worstChords).toHaveLength(1);
    expect(worstChords[0]!.bar).toBe(2);
    expect(worstChords[0]!.worst).toMatchObject({ name: 'major third', lowVoiceId: 'bottom', highVoiceId: 'top' });
    expect(worstChords[0]!.worst.offCents).toBeCloseTo(30, 1);
  });

  it('takes anything between the equal and the pure size of an interval for in tune', () => {
    expect(intervalSize(4, 386.3).offCents).toBeCloseTo(0, 1);
    expect(intervalSize(4, 400).offCents).toBe(0);
    expect(intervalSize(4, 380).offCents).toBeCloseTo(-6.3, 1);
    expect(intervalSize(19, 1905).offCents).toBeCloseTo(3, 0);
    expect(intervalSize(12, 1200)).toMatchObject({ name: 'octave', offCents: 0 });
    expect(intervalSize(0, -4)).toMatchObject({ name: 'unison', offCents: -4 });
  });

  it('without a score finds keys at a reference of 415 Hz, 101 cents below', () => {
    const notes = voice('a', HIGH, () => -101.27).notes;
    const [tuned] = tunedFromKeys([{ id: 'a', name: 'a', notes }], (key) => 100 * (key - 69));
    // A half tone lower is as good a name for every key: what counts is that all are named alike.
    expect(new Set(tuned!.notes.map((note, index) => note.key - HIGH[index]!))).toEqual(new Set([-1]));
    const spread = tuned!.notes.map((note) => note.cents - note.targetCents);
    expect(Math.max(...spread) - Math.min(...spread)).toBeLessThan(1e-6);
  });
});
