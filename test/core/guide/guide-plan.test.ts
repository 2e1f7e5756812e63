import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import type { Score } from '../../../core/guide/score.ts';

const score = (change: Partial<Score> = {}): Score => ({
  title: 'Evening canon',
  parts: [],
  metres: [{ atBar: 0, beats: 4, unit: 4, groups: null }],
  pickUpQuarters: 0,
  tempo: [{ atQuarters: 0, quartersPerMinute: 90, glides: false }],
  holds: [],
  lengthQuarters: 32,
  notes: [],
  ...change,
});

describe('the plan of a guide', () => {
  it('has tone, 5 s of silence, tone, tuning tone, cue, count-in and music in this order, apart from each other', () => {
    const plan = planGuide(score(), usualGuide);
    const [comes, ends, tuning] = plan.tones;
    expect(plan.silence.toFrame - plan.silence.fromFrame).toBe(5 * 48000);
    const order = [
      comes!.toFrame,
      plan.silence.fromFrame,
      plan.silence.toFrame,
      ends!.fromFrame,
      tuning!.fromFrame,
      plan.cues[0]!.beatFrames[0]!,
      plan.cues[0]!.clapFrame,
      plan.cues[0]!.toFrame,
      plan.countInFrame,
      plan.musicFrame,
      plan.musicEndFrame,
      plan.lengthFrames,
    ];
    expect(order).toEqual([...order].sort((a, b) => a - b));
  });

  it('counts two bars of 4/4 at 90 before the music: 8 clicks 32 000 frames apart', () => {
    const plan = planGuide(score(), usualGuide);
    const countIn = plan.clicks.filter((click) => click.countIn);
    expect(countIn.map((click) => click.frame - plan.musicFrame)).toEqual(
      [8, 7, 6, 5, 4, 3, 2, 1].map((n) => -32000 * n),
    );
    expect(countIn.map((click) => click.kind)).toEqual(['bar', 'beat', 'beat', 'beat', 'bar', 'beat', 'beat', 'beat']);
  });

  it('before a pick-up of one quarter in 3/4 counts two bars and the two quarters its bar lacks', () => {
    const plan = planGuide(
      score({ metres: [{ atBar: 0, beats: 3, unit: 4, groups: null }], pickUpQuarters: 1, lengthQuarters: 13 }),
      usualGuide,
    );
    const countIn = plan.clicks.filter((click) => click.countIn);
    expect(countIn).toHaveLength(8);
    expect(
      countIn
        .filter((click) => click.kind === 'bar')
        .map((click) => Math.round((plan.musicFrame - click.frame) / 32000)),
    ).toEqual([8, 5, 2]);
    expect(plan.bars[0]).toEqual({ number: 0, frame: plan.musicFrame, beatFrames: [plan.musicFrame] });
  });

  it('rests where it is told to and clicks the eighths of 6/8 when asked', () => {
    const six = score({ metres: [{ atBar: 0, beats: 6, unit: 8, groups: null }], lengthQuarters: 9 });
    const plan = planGuide(six, {
      ...usualGuide,
      click: 'units',
      countInBars: 0,
      restingBars: [{ fromBar: 2, toBar: 2 }],
    });
    const kinds = plan.clicks.map((click) => click.kind[0]).join('');
    expect(kinds).toBe('buubuu'.repeat(2));
    expect(plan.clicks.every((click) => click.frame < plan.bars[1]!.frame || click.frame >= plan.bars[2]!.frame)).toBe(
      true,
    );
  });

  it('has a second cue after the music when asked, and an end tone last', () => {
    const plan = planGuide(score(), { ...usualGuide, cue: 'both' });
    expect(plan.cues.map((cue) => cue.at)).toEqual(['start', 'end']);
    expect(plan.cues[1]!.beatFrames[0]).toBeGreaterThan(plan.musicEndFrame);
    expect(plan.tones.at(-1)!.what).toBe('end');
  });

  it('refuses a reference of 400 Hz', () => {
    expect(() => planGuide(score(), { ...usualGuide, referenceHz: 400 })).toThrow(/referenceHz is 400/);
  });
});
