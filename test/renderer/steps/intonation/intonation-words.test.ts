import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../../core/guide/plain-score.ts';
import type { Chord } from '../../../../core/pitch/chords.ts';
import type { NoteIntonation, VoiceIntonation } from '../../../../core/pitch/intonation.ts';
import { keptPlan } from '../../../../core/session/kept-plan.ts';
import {
  centsWords,
  chordStretch,
  chordWords,
  driftWords,
  exactCents,
  faultWords,
  isLate,
  isOut,
  lateWords,
  missesMany,
  noteName,
  notesOut,
  noteWords,
  pictureWords,
  unmeasuredWords,
  whereWords,
} from '../../../../renderer/steps/intonation/intonation-words.ts';

const piece = plainScore({ title: '', quartersPerMinute: 60, beats: 4, unit: 4, bars: 8 });
const plan = keptPlan(planGuide(piece, { ...usualGuide, restingBars: [] }), [])!;
const musicSec = plan.musicFrame / 48000;

function chord(change: Partial<Chord['worst']>): Chord {
  const worst = {
    name: 'fifth',
    soundingCents: 718,
    equalCents: 700,
    justCents: 702,
    offCents: 16,
    partials: { ofLow: 3, ofHigh: 2 },
    lowVoiceId: 'v2',
    highVoiceId: 'v1',
    uncertaintyCents: 1,
    heardFromCents: 6,
    beatsPerSec: 8,
    ...change,
  };
  return {
    fromSec: musicSec + 4.2,
    toSec: musicSec + 5,
    bar: 2,
    notes: [
      { voiceId: 'v2', name: 'Tenor', key: 62, cents: -700 },
      { voiceId: 'v1', name: 'Soprano', key: 69, cents: 18 },
    ],
    intervals: [worst],
    worst,
    uncertaintyCents: 1,
    fault: null,
  };
}

const note = (change: Partial<NoteIntonation>): NoteIntonation => ({
  fromSec: musicSec,
  toSec: musicSec + 1,
  key: 69,
  bar: 1,
  hz: 440,
  offCents: 0,
  uncertaintyCents: 1,
  spreadCents: 2,
  ...change,
});

const voice = (notes: readonly NoteIntonation[], centreCents: number | null = 0): VoiceIntonation => ({
  id: 'v1',
  name: 'Soprano',
  notes,
  centreCents,
  centreUncertaintyCents: 0.5,
  spreadCents: 4,
  habits: [],
});

describe('the words of Intonation', () => {
  it('name keys from A0 to C8 as players do, C4 the middle one', () => {
    expect([21, 60, 61, 69, 108].map(noteName)).toEqual(['A0', 'C4', 'C♯4', 'A4', 'C8']);
  });

  it('write cents whole, with their sign, and say how exact they are to two standard deviations', () => {
    expect([-12.4, -0.3, 0.6, 14.5].map(centsWords)).toEqual(['−12 cents', '0 cents', '+1 cent', '+15 cents']);
    expect([0.3, 0.49, 0.6, 1.6].map(exactCents)).toEqual(['± 0.6 cents', '± 1 cent', '± 1 cent', '± 3 cents']);
  });

  it('say where by bar and beat of the guide, else by the bar of the score, else by the time', () => {
    expect(whereWords(plan, { bar: 2, fromSec: musicSec + 4.2 })).toBe('bar 2, beat 1');
    expect(whereWords(plan, { bar: null, fromSec: 1 })).toBe('at 0:01.0');
    expect(whereWords(null, { bar: 7, fromSec: 61 })).toBe('bar 7, at 1:01.0');
  });

  it('give a note that is played up to an eighth of a beat early to the beat that it was meant for, also before bar 1', () => {
    expect(whereWords(plan, { bar: 1, fromSec: musicSec - 0.013 })).toBe('bar 1, beat 1');
    expect(whereWords(plan, { bar: 2, fromSec: musicSec + 3.977 })).toBe('bar 2, beat 1');
    expect(whereWords(plan, { bar: 2, fromSec: musicSec + 5.9 })).toBe('bar 2, beat 3');
    expect(whereWords(plan, { bar: 2, fromSec: musicSec + 5.75 })).toBe('bar 2, beat 2');
    expect(whereWords(plan, { bar: 8, fromSec: musicSec + 30.95 })).toBe('bar 8, beat 4');
    expect(whereWords(plan, { bar: 8, fromSec: musicSec + 31.99 })).toBe('bar 8, beat 4');
  });

  it('say of a chord which interval of whom is how much too wide or too narrow', () => {
    expect(chordWords(chord({}))).toBe('The fifth D4 to A4 of Tenor and Soprano is 16 cents too wide.');
    expect(chordWords(chord({ offCents: -20.6 }))).toContain('is 21 cents too narrow.');
    expect(chordWords(chord({ equalCents: 1900 }))).toContain('The fifth and an octave D4');
    expect(chordWords(chord({ equalCents: 3100 }))).toContain('The fifth and 2 octaves D4');
    expect(chordWords(chord({ name: 'octave', equalCents: 1200 }))).toContain('The octave D4');
    expect(chordWords(chord({ name: 'octave', equalCents: 2400 }))).toContain('The interval of 2 octaves D4');
    expect(chordWords(chord({ name: 'unison', equalCents: 0 }))).toBe(
      'The unison D4 of Tenor and Soprano is 16 cents apart.',
    );
  });

  it('say which voice of a chord is off, and whether by its habit; nothing where that cannot be told', () => {
    const { notes } = chord({});
    const fault = { voiceId: notes[1]!.voiceId, cents: 17.6, uncertaintyCents: 1, isHabit: true };
    expect(faultWords({ notes, fault })).toBe('Soprano is 18 cents too high for the others, mostly by its habit.');
    expect(faultWords({ notes, fault: { ...fault, cents: -8, isHabit: false } })).toBe(
      'Soprano is 8 cents too low for the others.',
    );
    expect(faultWords({ notes, fault: null })).toBeNull();
  });

  it('ask to look at a chord from 15 cents on, to either side', () => {
    expect([14.9, 15, -15, -3].map((offCents) => isOut(chord({ offCents })))).toEqual([false, true, true, false]);
  });

  it('let a chord be heard from 1 s before it to 2 s after it began, never before the beginning', () => {
    expect(chordStretch({ fromSec: 10 })).toEqual({ fromSec: 9, toSec: 12 });
    expect(chordStretch({ fromSec: 0.4 })).toEqual({ fromSec: 0, toSec: 2.4 });
  });

  it('speak of a drift from 5 cents on, when it is beyond doubt', () => {
    const drift = { fromSec: 0, toSec: 60, centsPerMinute: 0, points: [], uncertaintyCents: 1 };
    expect(driftWords({ ...drift, totalCents: -12 })).toContain('sinks by 12 cents');
    expect(driftWords({ ...drift, totalCents: 8 })).toContain('rises by 8 cents');
    expect(driftWords({ ...drift, totalCents: 4 })).toContain('stays where it is');
    expect(driftWords({ ...drift, totalCents: 8, uncertaintyCents: 5 })).toContain('stays where it is');
    expect(driftWords(null)).toContain('Too few notes');
  });

  it('tell why a voice was not measured, and how many written notes were not found', () => {
    const heard = { id: 'v1', name: 'Soprano', part: 'S', notesHeard: 9, notesWritten: 12, notesMatched: 9 };
    const pitched = { kind: 'pitched', pitchedShare: 0.9, sentence: 'One clear pitch at a time.' } as const;
    const several = { kind: 'several', pitchedShare: 0.4, sentence: 'Several notes seem to sound at once.' } as const;
    expect(unmeasuredWords({ ...heard, verdict: several })).toBe('Several notes seem to sound at once.');
    expect(unmeasuredWords({ ...heard, verdict: pitched })).toContain('3 of 12 written notes were not found');
    expect(unmeasuredWords({ ...heard, verdict: pitched })).toContain('Was it played as written');
    expect(missesMany({ notesWritten: 12, notesMatched: 11 })).toBe(false);
    expect(unmeasuredWords({ ...heard, verdict: pitched, notesMatched: 11 })).toContain(
      '1 of 12 written notes was not',
    );
    expect(unmeasuredWords({ ...heard, verdict: pitched, notesMatched: 12 })).toBeNull();
    expect(unmeasuredWords({ ...heard, verdict: pitched, notesWritten: null, notesMatched: null })).toBeNull();
  });

  it('pick notes from 15 cents off the own middle of the voice, the farthest first, not those in doubt', () => {
    const notes = [note({ offCents: -22 }), note({ offCents: 30 }), note({ offCents: 40, uncertaintyCents: 25 })];
    const out = notesOut(voice(notes, -4));
    expect(out.map(({ offCents }) => offCents)).toEqual([34, -18]);
    expect(noteWords(plan, out[0]!)).toBe('A4 (bar 1, beat 1) is 34 cents sharp');
  });

  it('describe the picture of a voice for whoever does not see it', () => {
    const words = pictureWords(plan, voice([note({}), note({ offCents: -22, key: 71 })], -3));
    expect(words).toContain('1 of 2 notes lie within 15 cents of the reference; the middle is −3 cents.');
    expect(words).toContain('The pitch of a note is known to ± 2 cents.');
    expect(words).toContain('The farthest is B4, bar 1, beat 1, at −22 cents.');
    expect(pictureWords(plan, voice([], null))).toBe('No notes were measured.');
  });

  it('call a voice late from 20 ms on, beyond doubt only', () => {
    expect([28.4, -8, 0.2].map(lateWords)).toEqual(['28 ms late', '8 ms early', 'in time']);
    expect(isLate({ lateMs: 28, uncertaintyMs: 6 })).toBe(true);
    expect(isLate({ lateMs: -28, uncertaintyMs: 15 })).toBe(false);
    expect(isLate({ lateMs: 19, uncertaintyMs: 1 })).toBe(false);
    expect(isLate({ lateMs: null, uncertaintyMs: null })).toBe(false);
  });
});
