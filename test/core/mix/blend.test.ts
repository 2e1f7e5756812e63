import { describe, expect, it } from 'vitest';
import { blendVoices } from '../../../core/mix/blend.ts';
import { placeGains, spreadPlaces } from '../../../core/mix/place.ts';

describe('blendVoices', () => {
  it('brings free voices to one loudness, their median, within 1e-9 LU', () => {
    const levels = [-30, -18.5, -22, -25];
    const choices = blendVoices(levels.map((integratedLufs, n) => ({ name: `v${n}`, role: 'free', integratedLufs })));
    for (const [n, choice] of choices.entries()) expect(levels[n]! + choice.gainDb).toBeCloseTo(-23.5, 9);
  });

  it('sets the lead 2 LU above and inner voices 1 LU below the bass, and says why', () => {
    const choices = blendVoices([
      { name: 'Flute', role: 'lead', integratedLufs: -20 },
      { name: 'Viola', role: 'inner', integratedLufs: -20 },
      { name: 'Cello', role: 'bass', integratedLufs: -20 },
    ]);
    expect(choices[0]!.gainDb - choices[2]!.gainDb).toBeCloseTo(2, 9);
    expect(choices[1]!.gainDb - choices[2]!.gainDb).toBeCloseTo(-1, 9);
    expect(choices[0]!.reason).toContain('Flute');
    expect(choices[0]!.reason).toContain('2 LU above');
  });

  it('moves no voice by more than 18 dB, and leaves a silent one alone; both say so', () => {
    const choices = blendVoices([
      { name: 'a', role: 'free', integratedLufs: -20 },
      { name: 'b', role: 'free', integratedLufs: -20 },
      { name: 'c', role: 'free', integratedLufs: -60 },
      { name: 'd', role: 'free', integratedLufs: Number.NEGATIVE_INFINITY },
    ]);
    expect(choices[2]).toMatchObject({ gainDb: 18, reached: false });
    expect(choices[2]!.reason).toContain('quieter');
    expect(choices[3]).toMatchObject({ gainDb: 0, reached: false });
    expect(choices[0]).toMatchObject({ gainDb: 0, reached: true });
  });

  it('gives no gains for no voices and 0 dB for one', () => {
    expect(blendVoices([])).toEqual([]);
    expect(blendVoices([{ name: 'a', role: 'inner', integratedLufs: -33 }])[0]!.gainDb).toBeCloseTo(0, 9);
  });
});

describe('spreadPlaces', () => {
  it('keeps lead and bass within 10 degrees, and spreads the others 15 to 45 degrees out in score order', () => {
    const places = spreadPlaces(['lead', 'inner', 'inner', 'inner', 'free', 'bass']);
    expect(Math.abs(places[0]!)).toBeLessThanOrEqual(10);
    expect(Math.abs(places[5]!)).toBeLessThanOrEqual(10);
    expect(places.slice(1, 5)).toEqual([-45, -15, 15, 45]);
  });

  it('puts a single voice in the middle and two free ones 30 degrees to both sides', () => {
    expect(spreadPlaces(['free'])).toEqual([0]);
    expect(spreadPlaces(['free', 'free'])).toEqual([-30, 30]);
    expect(spreadPlaces([])).toEqual([]);
  });

  it('gives every voice of up to 40 a place inside 45 degrees, no two of one kind the same, sides even within 20 degrees', () => {
    for (let count = 2; count <= 40; count++) {
      const places = spreadPlaces(Array.from({ length: count }, () => 'inner' as const));
      expect(new Set(places).size).toBe(count);
      for (const place of places) expect(Math.abs(place)).toBeLessThanOrEqual(45);
      expect(Math.abs(places.reduce((sum, place) => sum + place, 0) / count)).toBeLessThan(20);
    }
  });
});

describe('placeGains', () => {
  it('is exactly one-sided at 90 degrees and refuses more', () => {
    expect(placeGains(-90)).toEqual({ left: 1, right: 0 });
    expect(placeGains(90)).toEqual({ left: 0, right: 1 });
    expect(() => placeGains(-91)).toThrow(RangeError);
  });
});
