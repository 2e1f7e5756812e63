import { describe, expect, it } from 'vitest';
import type { IntonationReport } from '../../../core/pitch/intonation.ts';
import { emptySession, type Session } from '../../../core/session/schema.ts';
import { withTakesApart } from '../../../core/session/takes-apart.ts';
import { aTake, aVoice } from '../../app/desk/desk-kit.ts';

/** A voice that changes to its second take at 10 s, or stays with its first. */
function session(isOfTwo: boolean): Session {
  const passages = [
    { takeId: 't1', fromSec: 0, toSec: 10 },
    { takeId: 't2', fromSec: 10, toSec: 20 },
  ];
  return {
    ...emptySession('Test'),
    voices: [{ ...aVoice('v1'), passages: isOfTwo ? passages : null }],
    takes: [
      { ...aTake('t1', 'v1'), name: 'flute t1' },
      { ...aTake('t2', 'v1'), name: 'flute t2' },
    ],
  };
}

/** What was found of that voice, a note every 2 s that is off by so many cents, and of one chord that it spoils. */
function report(offs: readonly number[]): IntonationReport {
  const notes = offs.map((offCents, n) => ({
    ...{ fromSec: 2 * n, toSec: 2 * n + 1, key: 60, bar: null, hz: 262 },
    ...{ offCents, uncertaintyCents: 1, spreadCents: 0 },
  }));
  const sinks = { kind: 'sinks', cents: -36, uncertaintyCents: 4, sentence: 'Flute sinks.' } as const;
  const fault = { voiceId: 'v1', cents: 29, uncertaintyCents: 1, isHabit: true };
  return {
    voices: [{ id: 'v1', name: 'Flute', notes, habits: [sinks] }],
    worstChords: [{ fault }],
    chordsOutByHabit: [{ voiceId: 'v1', count: 7 }],
  } as unknown as IntonationReport;
}

describe('a voice of takes that are tuned apart', () => {
  it('says which lies how much higher, in the place of a habit of its own', () => {
    const told = withTakesApart(report([30, 28, 29, 29, 30, 0, -1, 1, 0, 2]), session(true));
    expect(told.voices[0]!.habits).toMatchObject([{ kind: 'takesApart', cents: 29 }]);
    expect(told.voices[0]!.habits[0]!.sentence).toBe(
      'The takes of Flute are tuned apart: flute t1 lies 29 cents above flute t2; moving one of them mends it.',
    );
    // Deviations of 0.6 to 0.7 cents from the middles of five notes each.
    expect(told.voices[0]!.habits[0]!.uncertaintyCents).toBeGreaterThan(1);
    expect(told.voices[0]!.habits[0]!.uncertaintyCents).toBeLessThan(4);
    expect(told.worstChords[0]!.fault!.isHabit).toBe(false);
    expect(told.chordsOutByHabit).toEqual([]);
  });

  it('is not told below the 6 cents that are heard, of fewer than 3 notes, nor of a voice of one take', () => {
    const near = report([5, 5, 5, 5, 5, 0, 0, 0, 0, 0]);
    expect(withTakesApart(near, session(true))).toBe(near);
    const few = report([30, 30, 30, 30, 30, 0, 0]);
    expect(withTakesApart(few, session(true))).toBe(few);
    const one = report([30, 28, 29, 29, 30, 0, -1, 1, 0, 2]);
    expect(withTakesApart(one, session(false))).toBe(one);
  });
});
