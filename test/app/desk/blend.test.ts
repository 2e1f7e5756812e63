import { describe, expect, it } from 'vitest';
import { findMusic } from '../../../app/desk/blend.ts';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../core/guide/plain-score.ts';
import { guideMarks, keptPlan } from '../../../core/session/kept-plan.ts';
import type { Placement } from '../../../core/session/schema.ts';

const score = plainScore({ title: 'Round', quartersPerMinute: 72, beats: 3, unit: 4, bars: 16 });
const plan = keptPlan(planGuide(score, { ...usualGuide, cue: 'both' }), ['Treble'])!;
const piece = guideMarks(plan).music;
const guideSec = plan.lengthFrames / 48_000;

/** The recorder ran 3 s before the guide did. */
const EARLY_SEC = 3;
const placed: Placement = {
  offsetSec: -EARLY_SEC,
  driftPpm: 0,
  uncertaintySec: 0.003,
  driftUncertaintyPpm: 10,
  confidence: 0.9,
  question: null,
  by: 'found',
  evidence: [],
};

/** A take whose player plays all of the piece, while tones of the guide leak 16 LU under it before and after, with rests between. */
const leaking = () => {
  const count = Math.round((EARLY_SEC + guideSec + 6) * 10);
  const momentaryLufs = Array.from({ length: count }, (_, n) => {
    const sec = 0.1 * n - EARLY_SEC;
    if (sec >= piece.fromSec && sec <= piece.toSec) return -23;
    const isRest = sec > piece.fromSec - 1.5 && sec < piece.toSec + 1.5;
    return isRest ? -70 : -39;
  });
  return { integratedLufs: -23, momentaryLufs };
};

describe('findMusic', () => {
  it('keeps to the music of the guide that a take was played to, within 0.6 s at its beginning and 0.2 s at its end', () => {
    const { music } = findMusic(leaking(), placed, plan);
    expect(music!.fromSec).toBeGreaterThan(piece.fromSec - 0.6);
    expect(music!.fromSec).toBeLessThan(piece.fromSec + 0.1);
    expect(music!.toSec).toBeGreaterThan(piece.toSec - 0.2);
    expect(music!.toSec).toBeLessThan(piece.toSec + 0.2);
  });

  it('does not hold a take to the guide where its own place is a question, or not known', () => {
    const free = findMusic(leaking(), placed, null).music!;
    expect(free.toSec).toBeGreaterThan(piece.toSec + 3);
    expect(findMusic(leaking(), { ...placed, question: 'Where?' }, plan).music).toEqual(free);
    expect(findMusic(leaking(), { ...placed, uncertaintySec: 10 }, plan).music).toEqual(free);
  });

  it('looks anew when another guide comes in', () => {
    const loudness = leaking();
    const free = findMusic(loudness, placed, null).music!;
    expect(findMusic(loudness, placed, plan).music!.toSec).toBeLessThan(free.toSec - 3);
  });
});
