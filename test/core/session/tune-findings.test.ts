import { describe, expect, it } from 'vitest';
import { plainScore } from '../../../core/guide/plain-score.ts';
import type { Score } from '../../../core/guide/score.ts';
import { type TrackedVoice, tuneFindings } from '../../../core/session/tune-report.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { Random } from '../../../core/signal/random.ts';

const EQUAL = { temperament: 'equal', tonic: 0, referenceHz: null, score: undefined, plan: undefined } as const;
const PLACE = { offsetSec: 0, driftPpm: 0, uncertaintySec: 0.004 };

/** Twenty notes of half a second, each by so many cents off its key. */
function voiceOf(id: string, centsAt: (n: number) => number, place: TrackedVoice['place']): TrackedVoice {
  const notes = Array.from({ length: 20 }, (_, n) => {
    const cents = 100 * (n % 5) + centsAt(n);
    const fromSec = 2 + 0.5 * n;
    const times = { fromSec, toSec: fromSec + 0.48, onsetSec: fromSec, onsetUncertaintySec: 0.005 };
    const pitch = { hz: 440 * 2 ** (cents / 1200), cents, spreadCents: 2, uncertaintyCents: 1, vibrato: null };
    return { ...times, ...pitch, levelDbfs: -20 };
  });
  const verdict = { kind: 'pitched', pitchedShare: 0.9, sentence: 'One clear pitch at a time.' } as const;
  const row = { hopSec: 0.01, firstSec: 0, hz: new Float64Array(1300) };
  return { id, name: id, tracked: { hopSec: 0.01, firstSec: 0, frames: 1300, verdict, notes }, row, place };
}

describe('what is found of voices', () => {
  const seed = 31;
  const random = new Random(seed);
  const spoken = (): number => 80 * (random.uniform() - 0.5);

  it('leaves a clip whose place is not known out of everything, and says so', () => {
    const own = [voiceOf('flute', () => 4, PLACE), voiceOf('oboe', () => 6, PLACE)];
    const alone = tuneFindings(own, EQUAL);
    const found = tuneFindings([...own, voiceOf('memo', spoken, null)], EQUAL);
    expect(found.intonation!.reference, `seed ${seed}`).toEqual(alone.intonation!.reference);
    expect(found.intonation!.voices[2]).toMatchObject({ notes: [], centreCents: null, habits: [] });
    expect(found.voices[2]!.notesHeard).toBe(0);
    expect(found.intonation!.chordsMeasured).toBe(alone.intonation!.chordsMeasured);
    expect(alone.intonation!.chordsMeasured).toBe(20);
    expect(found.timing).toEqual(alone.timing);
    expect(found.notes).toEqual([
      'Where memo lies is not known; its pitch and timing are not measured. Lay it to its place in the line-up, or take it out.',
    ]);
  });

  it('still measures each voice for itself where no place is known, without chords', () => {
    const found = tuneFindings([voiceOf('flute', () => 4, null), voiceOf('oboe', () => 6, null)], EQUAL);
    expect(found.intonation!.voices.map(({ notes }) => notes.length)).toEqual([20, 20]);
    expect(found.intonation!.reference.cents).toBeCloseTo(5, 6);
    expect(found.intonation!.chordsMeasured).toBe(0);
    expect(found.timing).toBeNull();
  });

  it('is stopped at any of its looks at the flag, which come at each part and shift, voice and chord', () => {
    const voices = [voiceOf('flute', () => 4, PLACE), voiceOf('oboe', () => 6, PLACE)];
    const plain = plainScore({ title: 'Two voices', quartersPerMinute: 120, beats: 4, unit: 4, bars: 5 });
    const part = (name: string, key: number): Score['parts'][number] => ({
      id: name,
      name,
      sound: 'bowed',
      notes: Array.from({ length: 20 }, (_, n) => {
        return { atQuarters: n, lengthQuarters: 1, key: key + (n % 5), loudness: 0.6 };
      }),
    });
    const score = { ...plain, parts: [part('High', 69), part('Low', 62)] };
    const against = { ...EQUAL, score };
    let looks = 0;
    let stopAt = Number.POSITIVE_INFINITY;
    const cancel = {
      get aborted() {
        return ++looks >= stopAt;
      },
    };
    expect(tuneFindings(voices, against, cancel)).toEqual(tuneFindings(voices, against));
    const all = looks;
    // 20 chords, two alignments of each voice at the least, centre and habits of each.
    expect(all).toBeGreaterThanOrEqual(28);
    for (stopAt = 1; stopAt <= all; stopAt++) {
      looks = 0;
      expect(() => tuneFindings(voices, against, cancel), `look ${stopAt}`).toThrow(CancelledError);
      expect(looks).toBe(stopAt);
    }
  });
});
