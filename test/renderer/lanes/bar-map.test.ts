import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../core/guide/plain-score.ts';
import type { Score } from '../../../core/guide/score.ts';
import { type KeptPlan, keptPlan } from '../../../core/session/kept-plan.ts';
import {
  barStep,
  barsOf,
  guideShades,
  momentInWords,
  placeAt,
  placeInWords,
  secOf,
  stretchInBars,
  usualBarSec,
} from '../../../renderer/lanes/bar-map.ts';

const RATE_HZ = 48000;
const piece = plainScore({ title: '', quartersPerMinute: 60, beats: 3, unit: 4, bars: 8 });

function planOf(score: Score = piece, settings: Partial<typeof usualGuide> = {}): KeptPlan {
  return keptPlan(planGuide(score, { ...usualGuide, ...settings }), [])!;
}

describe('bar and beat of a session time', () => {
  it('stand before the clock where there are bars, and the clock alone where there are none', () => {
    const plan = planOf();
    const sec = plan.musicFrame / RATE_HZ + 4;
    expect(momentInWords(plan, sec)).toMatch(/^bar 2, beat 2 \(0:\d\d\.\d\d\)$/);
    expect(momentInWords(plan, 0)).toBe('0:00.00');
    expect(momentInWords(null, 61.257)).toBe('1:01.26');
  });

  it('are exact at every beat of every bar, also a frame before it, at 60 quarters a minute in 3/4', () => {
    const plan = planOf();
    for (let bar = 1; bar <= 8; bar++) {
      for (let beat = 1; beat <= 3; beat++) {
        const frame = plan.musicFrame + (3 * (bar - 1) + beat - 1) * RATE_HZ;
        expect(secOf(plan, { bar, beat })).toBe(frame / RATE_HZ);
        expect(placeAt(plan, frame / RATE_HZ)).toEqual({ bar, beat });
        const before = placeAt(plan, (frame - 1) / RATE_HZ);
        if (bar === 1 && beat === 1) expect(before).toBeNull();
        else expect(before).toEqual(beat > 1 ? { bar, beat: beat - 1 } : { bar: bar - 1, beat: 3 });
      }
    }
    expect(placeAt(plan, plan.musicEndFrame / RATE_HZ)).toBeNull();
    expect(placeAt(plan, 0)).toBeNull();
  });

  it('follow a slower tempo and a pick-up', () => {
    const plan = planOf({
      ...piece,
      pickUpQuarters: 1,
      lengthQuarters: 1 + 3 * 8,
      tempo: [
        { atQuarters: 0, quartersPerMinute: 60, glides: false },
        { atQuarters: 4, quartersPerMinute: 30, glides: false },
      ],
    });
    const musicSec = plan.musicFrame / RATE_HZ;
    expect(placeAt(plan, musicSec + 0.5)).toEqual({ bar: 0, beat: 1 });
    expect(placeAt(plan, musicSec + 1)).toEqual({ bar: 1, beat: 1 });
    // Bar 2 lasts 6 s, its second beat begins after 2 s.
    expect(placeAt(plan, musicSec + 4 + 1.99)).toEqual({ bar: 2, beat: 1 });
    expect(placeAt(plan, musicSec + 4 + 2)).toEqual({ bar: 2, beat: 2 });
    expect(placeInWords({ bar: 0, beat: 1 })).toBe('pick-up, beat 1');
    expect(barsOf(plan)[0]).toMatchObject({ label: '', sec: musicSec });
  });

  it('name a stretch, up to the end of the piece, and say nothing of one outside', () => {
    const plan = planOf();
    const at = (bar: number, beat: number): number => secOf(plan, { bar, beat })!;
    expect(stretchInBars(plan, { fromSec: at(3, 1), toSec: at(5, 2) })).toBe('bar 3, beat 1 to bar 5, beat 2');
    const endSec = plan.musicEndFrame / RATE_HZ;
    expect(stretchInBars(plan, { fromSec: at(7, 1), toSec: endSec })).toBe('bar 7, beat 1 to the end');
    expect(stretchInBars(plan, { fromSec: 0, toSec: at(2, 1) })).toBe('');
    expect(secOf(plan, { bar: 9, beat: 1 })).toBeNull();
  });
});

describe('the guide line', () => {
  it('knows cue, clap and count-in of both ends', () => {
    const plan = planOf(piece, { cue: 'both', countInBars: 1 });
    const shades = guideShades(plan);
    expect(shades.map(({ label }) => label)).toEqual(['cue', 'cue', 'count-in']);
    for (const [n, cue] of plan.cues.entries()) {
      expect(shades[n]!.clapSec).toBe(cue.clapFrame / RATE_HZ);
      expect(shades[n]!.fromSec).toBeLessThan(shades[n]!.clapSec!);
      expect(shades[n]!.toSec).toBeGreaterThan(shades[n]!.clapSec!);
    }
    expect(shades[2]!.toSec - shades[2]!.fromSec).toBeCloseTo(3, 4);
    expect(guideShades(planOf(piece, { countInBars: 0 })).map(({ label }) => label)).toEqual(['cue']);
    expect(barsOf(null)).toEqual([]);
  });

  it('leaves bar lines out by twos, so that they stand the asked pixels apart', () => {
    expect([30, 8, 7, 3.5, 3, 0.4].map((barPx) => barStep(barPx, 7))).toEqual([1, 1, 1, 2, 4, 32]);
    expect(usualBarSec(barsOf(planOf()))).toBeCloseTo(3, 4);
  });
});
