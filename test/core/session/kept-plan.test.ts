import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../core/guide/plain-score.ts';
import { apply } from '../../../core/session/edit.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { silenceInTake } from '../../../core/session/guide-silence.ts';
import { guideMarks, keptPlan } from '../../../core/session/kept-plan.ts';
import { emptySession, formatSession, parseSession, SESSION_VERSION } from '../../../core/session/schema.ts';

const score = plainScore({ title: 'Round', quartersPerMinute: 72, beats: 3, unit: 4, bars: 16 });
const plan = planGuide(score, { ...usualGuide, cue: 'both' });
const kept = keptPlan(plan, ['Treble', 'Bass'])!;
const clip = { path: 'guide.wav', sizeBytes: 5000, fingerprint: 'c'.repeat(64) };

/** A session.json as version 2 wrote it, with a guide and with fields of its own left as they are. */
const VERSION_2 = JSON.stringify({
  format: 'partsong-session',
  version: 2,
  title: 'Evening canon',
  rateHz: 48000,
  guide: { clip },
  voices: [],
  takes: [],
  mix: { targetLufs: -16, ceilingDbtp: -1 },
});

describe('the plan of a guide in the session', () => {
  it('is null for a guide of a session of version 2, whose other fields stay', () => {
    const session = parseSession(VERSION_2, 'session.json');
    expect(session.guide).toEqual({ clip, plan: null });
    expect(session.version).toBe(SESSION_VERSION);
    expect(session.mix.targetLufs).toBe(-16);
    expect(parseSession(VERSION_2.replace(JSON.stringify({ clip }), 'null'), 's').guide).toBeNull();
  });

  it('is read back as it was written, in frames', () => {
    const session = apply(emptySession('Round'), { kind: 'setGuide', clip, plan: kept });
    expect(parseSession(formatSession(session), 's')).toEqual(session);
    expect(kept.silence).toEqual({ fromFrame: 62_400, toFrame: 302_400 });
    expect(kept.bars).toHaveLength(16);
    expect(kept.bars[0]!.frame).toBe(kept.musicFrame);
    expect(kept.cues.map((cue) => cue.at)).toEqual(['start', 'end']);
  });

  it('stays when its clip is found elsewhere, and goes with another clip', () => {
    const session = apply(emptySession('Round'), { kind: 'setGuide', clip, plan: kept });
    const moved = apply(session, { kind: 'setGuide', clip: { ...clip, path: '/other/guide.wav' } });
    expect(moved.guide?.plan).toEqual(kept);
    const other = apply(session, { kind: 'setGuide', clip: { ...clip, fingerprint: 'd'.repeat(64) } });
    expect(other.guide?.plan).toBeNull();
    expect(apply(session, { kind: 'setGuide', clip: null }).guide).toBeNull();
  });

  it('is checked at the door: an edit as older histories hold it, without plan, and none with a plan that cannot be', () => {
    expect(editSchema.safeParse({ kind: 'setGuide', clip }).success).toBe(true);
    expect(editSchema.safeParse({ kind: 'setGuide', clip, plan: kept }).success).toBe(true);
    for (const wrong of [
      { ...kept, silence: { fromFrame: 9, toFrame: 9 } },
      { ...kept, musicFrame: -1 },
      { ...kept, lengthFrames: 0.5 },
      { ...kept, extra: 1 },
      { ...kept, bars: Array.from({ length: 20_001 }, () => kept.bars[0]) },
      { ...kept, voices: Array.from({ length: 201 }, () => 'x') },
    ]) {
      expect(editSchema.safeParse({ kind: 'setGuide', clip, plan: wrong }).success).toBe(false);
    }
  });

  it('is null where a guide is longer than a session holds', () => {
    expect(keptPlan({ ...plan, lengthFrames: 1e10 }, [])).toBeNull();
  });

  it('tells line-up the claps and the music in seconds, and a take where its silence is', () => {
    const marks = guideMarks(kept);
    expect(marks.clapsSec).toEqual(plan.cues.map((cue) => cue.clapFrame / 48000));
    expect(marks.hasVoices).toBe(true);
    expect(marks.music.fromSec).toBe(plan.musicFrame / 48000);
    const silence = silenceInTake(kept, { offsetSec: -2, driftPpm: 100 });
    expect(silence.fromSec).toBeCloseTo((62_400 / 48000 + 2) * 1.0001, 9);
    expect(silence.toSec).toBeCloseTo((302_400 / 48000 + 2) * 1.0001, 9);
  });
});
