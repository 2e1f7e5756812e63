import { describe, expect, it } from 'vitest';
import { keyHz, scaleCents } from '../../../core/guide/temperament.ts';

// CV-6.1 and CV-6.2: equal temperament at A4 = 440 Hz (ISO 16) and the cents of just intervals, from their ratios.
describe('the temperaments', () => {
  it('equal: C4 261.6256, E2 82.4069, C8 4186.0090 Hz at A4 = 440 (CV-6.1), within 5e-5 Hz', () => {
    for (const [key, hz] of [
      [60, 261.6256],
      [40, 82.4069],
      [108, 4186.009],
      [55, 195.9977],
      [74, 587.3295],
    ] as const) {
      expect(Math.abs(keyHz(key, 'equal', 0, 440) - hz)).toBeLessThan(6e-5);
    }
  });

  it('just: 111.7313, 203.9100, 315.6413, 386.3137, 498.0450, 590.2237, 701.9550 ... cents (CV-6.2), within 1e-4', () => {
    const published = [
      0, 111.7313, 203.91, 315.6413, 386.3137, 498.045, 590.2237, 701.955, 813.6863, 884.3587, 1017.5963, 1088.2687,
    ];
    for (const [at, cents] of scaleCents('just').entries()) expect(Math.abs(cents - published[at]!)).toBeLessThan(1e-4);
  });

  it('pythagorean: third 407.8200 cents (81/64), fifth 701.9550 (CV-6.2); G sharp to E flat misses a fifth by the comma 23.4600', () => {
    const cents = scaleCents('pythagorean');
    expect(cents[4]).toBeCloseTo(407.82, 4);
    expect(cents[7]).toBeCloseTo(701.955, 4);
    expect(701.955 - (cents[3]! + 1200 - cents[8]!)).toBeCloseTo(23.46, 3);
  });

  it('quarter-comma mean-tone: pure third 386.3137 cents, fifth a quarter of 21.5063 narrow (CV-6.2)', () => {
    const cents = scaleCents('meanTone');
    expect(cents[4]).toBeCloseTo(386.3137, 4);
    expect(701.955 - cents[7]!).toBeCloseTo(21.5063 / 4, 3);
  });

  it('keeps A4 at the reference on every tonic, and 415 Hz is 101.2706 cents under 440 (CV-6.1)', () => {
    for (let tonic = 0; tonic < 12; tonic++) expect(keyHz(69, 'meanTone', tonic, 415)).toBeCloseTo(415, 10);
    expect(1200 * Math.log2(keyHz(69, 'just', 2, 440) / keyHz(69, 'just', 2, 415))).toBeCloseTo(101.2706, 4);
  });

  it('just on D: D to F sharp is 5/4, D to A 3/2', () => {
    const hz = (key: number): number => keyHz(key, 'just', 2, 440);
    expect(hz(66) / hz(62)).toBeCloseTo(5 / 4, 12);
    expect(hz(69) / hz(62)).toBeCloseTo(3 / 2, 12);
  });
});
