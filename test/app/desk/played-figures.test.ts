import { describe, expect, it } from 'vitest';
import { type HeardTake, playedFigures } from '../../../app/desk/played-figures.ts';
import { tuneFindings } from '../../../app/desk/tune-report.ts';
import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import { PitchTracker } from '../../../core/pitch/pitch-tracker.ts';
import { pitchVerdict } from '../../../core/pitch/pitch-verdict.ts';
import { Random } from '../../../core/signal/random.ts';

const RATE_HZ = 12000;
const NOTES = 12;
const AGAINST = { score: undefined, plan: undefined };

/** A take of twelve notes half a second apart, some ms early or late and some cents off. Invented, from the seed. */
function heard(id: string, voice: string, key: number, seed: number): HeardTake {
  const random = new Random(seed);
  const sound = new Float32Array((0.5 * NOTES + 1) * RATE_HZ);
  for (let note = 0; note < NOTES; note++) {
    const first = Math.round((0.5 + 0.5 * note + 0.015 * random.gaussian()) * RATE_HZ);
    const hz = 440 * 2 ** ((key + [0, 2, 4, 5][note % 4]! - 69) / 12 + (8 * random.gaussian()) / 1200);
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
