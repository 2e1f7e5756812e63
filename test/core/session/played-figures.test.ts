import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../core/guide/plain-score.ts';
import type { Score } from '../../../core/guide/score.ts';
import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import { PitchTracker } from '../../../core/pitch/pitch-tracker.ts';
import { pitchVerdict } from '../../../core/pitch/pitch-verdict.ts';
import { type HeardTake, playedFigures } from '../../../core/session/played-figures.ts';
import { tuneFindings } from '../../../core/session/tune-report.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { Random } from '../../../core/signal/random.ts';

const RATE_HZ = 12000;
const NOTES = 12;
const AGAINST = { score: undefined, plan: undefined };

/** Keys above the lowest one. */
const STEPS = [0, 2, 4, 5];

/**
 * A take of notes half a second apart, some ms early or late and some cents off. Invented, from the seed. lateSec: of each note.
 */
function heard(
  id: string,
  voice: string,
  key: number,
  seed: number,
  steps = Array.from({ length: NOTES }, (_, note) => STEPS[note % 4]!),
  lateSec: (note: number) => number = () => 0,
): HeardTake {
  const random = new Random(seed);
  const sound = new Float32Array((0.5 * steps.length + 3) * RATE_HZ);
  for (let note = 0; note < steps.length; note++) {
    const first = Math.round((0.5 + 0.5 * note + lateSec(note) + 0.015 * random.gaussian()) * RATE_HZ);
    const hz = 440 * 2 ** ((key + steps[note]! - 69) / 12 + (8 * random.gaussian()) / 1200);
    for (let n = 0; n < 0.4 * RATE_HZ; n++) {
      const envelope = Math.min(1, n / 120, (0.4 * RATE_HZ - n) / 240);
      for (let partial = 1; partial <= 4; partial++)
        sound[first + n]! += ((0.1 * envelope) / partial) * Math.sin((2 * Math.PI * partial * hz * n) / RATE_HZ);
    }
  }
  const tracker = new PitchTracker(RATE_HZ);
  tracker.add([sound.map((value) => value + 1e-4 * random.gaussian())]);
  const track = tracker.result();
  const { hopSec, firstSec, hz } = track;
  const tracked = { hopSec, firstSec, frames: hz.length, verdict: pitchVerdict(track), notes: heardNotes(track) };
  const place = { offsetSec: 0, driftPpm: 0, uncertaintySec: 0.001 };
  return { voice, track: { id, name: id, tracked, row: { hopSec, firstSec, hz }, place } };
}

describe('figures of how takes were played', () => {
  const viol = heard('viol', 'viol', 60, 1);
  const bass = heard('bass', 'bass', 48, 2);
  const flute = heard('flute', 'flute', 72, 3);
  const again = heard('viol again', 'viol', 60, 4);
  const takes = [viol, bass, flute, again];

  it('say why a pitch is not measured, in the words of its verdict, and nothing where it is', () => {
    const verdict = { kind: 'several', pitchedShare: 0.9, sentence: 'Several notes seem to sound at once.' } as const;
    const chords = { ...viol, track: { ...viol.track, tracked: { ...viol.track.tracked, verdict, notes: [] } } };
    const [first, second] = playedFigures([chords, bass], AGAINST);
    expect(first).toEqual({ scatterMs: null, spreadCents: null, noPitch: verdict.sentence, astray: [] });
    expect([second!.noPitch, second!.spreadCents === null]).toEqual([null, false]);
  });

  it('are those of each take held alone against the first takes of the other voices', () => {
    const figures = playedFigures(takes, AGAINST);
    for (const [n, take] of takes.entries()) {
      const others = [viol, bass, flute].filter(({ voice }) => voice !== take.voice);
      const { timing, intonation } = tuneFindings(
        [take, ...others].map(({ track }) => track),
        { ...AGAINST, referenceHz: null, temperament: 'equal', tonic: 0 },
      );
      const scatterMs = timing!.voices.find(({ id }) => id === take.track.id)!.spreadMs;
      const spreadCents = intonation!.voices.find(({ id }) => id === take.track.id)!.spreadCents;
      expect(figures[n]!.scatterMs).toBeCloseTo(scatterMs!, 9);
      expect(figures[n]!.spreadCents).toBeCloseTo(spreadCents!, 9);
    }
  });

  it('of the first takes stay what they are when a voice has one take more', () => {
    expect(playedFigures(takes, AGAINST).slice(0, 3)).toEqual(playedFigures(takes.slice(0, 3), AGAINST));
  });
});

describe('a take of eight bars of which bars 4 to 6 were played 0.9 s late', () => {
  const random = new Random(7);
  const steps = Array.from({ length: 32 }, () => [0, 2, 4, 5, 7, 9, 11, 12][Math.floor(8 * random.uniform())]!);
  const plain = plainScore({ title: 'Eight bars', quartersPerMinute: 120, beats: 4, unit: 4, bars: 8 });
  const notes = steps.map((step, n) => ({ atQuarters: n, lengthQuarters: 1, key: 60 + step, loudness: 0.7 }));
  const score: Score = { ...plain, parts: [{ id: 'viol', name: 'Viol', sound: 'bowed', notes }] };
  const plan = planGuide(score, usualGuide);
  const offsetSec = plan.musicFrame / 48_000 - 0.5;
  const placed = ({ voice, track }: HeardTake): HeardTake => ({
    voice,
    track: { ...track, place: { offsetSec, driftPpm: 0, uncertaintySec: 0.001 } },
  });
  const late = (note: number): number => (note >= 12 && note < 24 ? 0.9 : 0);
  const good = placed(heard('good', 'viol', 60, 5, steps));
  const astray = placed(heard('astray', 'viol', 60, 6, steps, late));

  it('tells where, and nothing of a take in time, nor where no guide tells when notes are due', () => {
    const [first, second] = playedFigures([good, astray], { score, plan });
    expect(first!.astray).toEqual([]);
    expect(second!.astray).toHaveLength(1);
    const [found] = second!.astray!;
    expect(found!.bars).toEqual([4, 6]);
    expect(found!.lateSec).toBeCloseTo(0.9, 1);
    expect(playedFigures([good, astray], { score, plan: undefined }).flatMap((one) => one.astray)).toEqual([]);
    expect(playedFigures([good, astray], AGAINST).flatMap((one) => one.astray)).toEqual([]);
  });

  it('are those of each take held alone against the first takes of the other voices, by a guide too', () => {
    const viol = placed(heard('viol', 'viol', 60, 8, steps));
    const bass = placed(heard('bass', 'bass', 48, 9, steps));
    const takes = [viol, bass, { ...good, voice: 'viol' }, { ...astray, voice: 'bass' }];
    const figures = playedFigures(takes, { score, plan });
    for (const [n, take] of takes.entries()) {
      const other = take.voice === 'viol' ? bass : viol;
      const { timing, intonation } = tuneFindings([take.track, other.track], {
        ...{ score, plan, referenceHz: null },
        ...{ temperament: 'equal', tonic: 0 },
      });
      expect(figures[n]!.scatterMs).toBe(timing!.voices[0]!.spreadMs);
      expect(figures[n]!.spreadCents).toBe(intonation!.voices[0]!.spreadCents);
    }
  });

  it('is stopped at any of the looks at the flag, one for each octave that is tried', () => {
    let looks = 0;
    let stopAt = Number.POSITIVE_INFINITY;
    const cancel = {
      get aborted() {
        return ++looks >= stopAt;
      },
    };
    expect(playedFigures([good, astray], { score, plan }, cancel)).toEqual(
      playedFigures([good, astray], { score, plan }),
    );
    const all = looks;
    expect(all).toBeGreaterThan(5);
    for (stopAt = 1; stopAt <= all; stopAt++) {
      looks = 0;
      expect(() => playedFigures([good, astray], { score, plan }, cancel), `look ${stopAt}`).toThrow(CancelledError);
      expect(looks).toBe(stopAt);
    }
  });
});
