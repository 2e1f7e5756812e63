import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../core/guide/plain-score.ts';
import type { Score } from '../../../core/guide/score.ts';
import { withHold, withRitardando } from '../../../core/guide/tempo-marks.ts';

const score: Score = plainScore({ title: 'x', quartersPerMinute: 96, beats: 4, unit: 4, bars: 8 });
/** Where each bar begins, s after the music's beginning. */
const barsOf = (one: Score): number[] => {
  const plan = planGuide(one, usualGuide);
  return plan.bars.map((bar) => (bar.frame - plan.musicFrame) / 48000);
};
const FRAME_SEC = 1 / 48000;

describe('a ritardando asked for by bars', () => {
  it('from 96 to 60 over bars 3 and 4 lasts the integral of its tempo, 6.267 s; then 96 comes back', () => {
    const bars = barsOf(withRitardando(score, { fromBar: 3, toBar: 4, quartersPerMinute: 60 }));
    // 60 / slope times the logarithm of the ratio, over 8 quarters.
    const lasts = ((60 * 8) / (60 - 96)) * Math.log(60 / 96);
    expect(bars[2]).toBeCloseTo(5, 4);
    expect(Math.abs(bars[4]! - bars[2]! - lasts)).toBeLessThan(FRAME_SEC);
    expect(Math.abs(bars[5]! - bars[4]! - 2.5)).toBeLessThan(2 * FRAME_SEC);
    expect(lasts).toBeCloseTo(6.267, 3);
  });

  it('takes the place of what the score says there, from its first bar or to its last, and may follow another', () => {
    const marked = {
      ...score,
      tempo: [
        { atQuarters: 0, quartersPerMinute: 96, glides: false },
        { atQuarters: 6, quartersPerMinute: 200, glides: false },
        { atQuarters: 12, quartersPerMinute: 80, glides: false },
      ],
    };
    const bars = barsOf(withRitardando(marked, { fromBar: 1, toBar: 2, quartersPerMinute: 48 }));
    expect(Math.abs(bars[2]! - ((60 * 8) / (48 - 96)) * Math.log(48 / 96))).toBeLessThan(FRAME_SEC);
    expect(bars[4]! - bars[3]!).toBeCloseTo(3, 4);
    const twice = withRitardando(withRitardando(score, { fromBar: 1, toBar: 1, quartersPerMinute: 48 }), {
      fromBar: 8,
      toBar: 8,
      quartersPerMinute: 40,
    });
    const plan = planGuide(twice, usualGuide);
    const last = (plan.musicEndFrame - plan.bars[7]!.frame) / 48000;
    expect(Math.abs(last - ((60 * 4) / (40 - 96)) * Math.log(40 / 96))).toBeLessThan(2 * FRAME_SEC);
  });

  it('refuses a bar that is not there', () => {
    expect(() => withRitardando(score, { fromBar: 7, toBar: 9, quartersPerMinute: 60 })).toThrow(/no bar 9/);
  });
});

describe('a fermata asked for', () => {
  it('waits 2 s at the end of a bar, or 1.5 s after its second beat', () => {
    const bars = barsOf(withHold(withHold(score, { bar: 2, beat: null, sec: 2 }), { bar: 4, beat: 2, sec: 1.5 }));
    expect(bars[1]).toBeCloseTo(2.5, 4);
    expect(bars[2]).toBeCloseTo(7, 4);
    const plan = planGuide(withHold(score, { bar: 4, beat: 2, sec: 1.5 }), usualGuide);
    const [, second, third] = plan.bars[3]!.beatFrames;
    expect((third! - second!) / 48000).toBeCloseTo(0.625 + 1.5, 4);
  });

  it('refuses a beat that is not there', () => {
    expect(() => withHold(score, { bar: 4, beat: 5, sec: 1 })).toThrow(/no beat 5/);
  });
});
