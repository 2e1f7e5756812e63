import { describe, expect, it } from 'vitest';
import { type BiquadShape, biquadGainDb, designBiquad } from '../../core/signal/biquad.ts';

/** Values: W3C Note "Audio EQ Cookbook", computed with scipy, to the 12 decimals given. */
const rows: readonly {
  readonly shape: BiquadShape;
  readonly rateHz: number;
  readonly b: readonly number[];
  readonly a: readonly number[];
  readonly gains: readonly (readonly [hz: number, db: number])[];
}[] = [
  {
    shape: { kind: 'peak', hz: 1000, q: 1, gainDb: 6 },
    rateHz: 48000,
    b: [1.04395308699, -1.895320723937, 0.86772228476],
    a: [-1.895320723937, 0.91167537175],
    gains: [
      [500, 1.8794],
      [1000, 6],
      [2000, 1.866],
    ],
  },
  {
    shape: { kind: 'peak', hz: 1000, q: 1, gainDb: 6 },
    rateHz: 44100,
    b: [1.0476300262, -1.884991252457, 0.856656460922],
    a: [-1.884991252457, 0.904286487122],
    gains: [
      [1000, 6],
      [2000, 1.8627],
    ],
  },
  {
    shape: { kind: 'highPass', hz: 80, q: Math.SQRT1_2 },
    rateHz: 48000,
    b: [0.992622542756, -1.985245085512, 0.992622542756],
    a: [-1.985190657896, 0.985299513128],
    gains: [
      [20, -24.0995],
      [40, -12.3046],
      [80, -3.0103],
      [160, -0.2633],
    ],
  },
  {
    shape: { kind: 'lowPass', hz: 1000, q: Math.SQRT1_2 },
    rateHz: 48000,
    b: [0.003916126661, 0.007832253321, 0.003916126661],
    a: [-1.815341082705, 0.831005589347],
    gains: [
      [1000, -3.0103],
      [2000, -12.3749],
    ],
  },
  {
    shape: { kind: 'lowShelf', hz: 200, slope: 1, gainDb: 6 },
    rateHz: 48000,
    b: [1.006445577851, -1.96861235232, 0.963120058273],
    a: [-1.968850107386, 0.969327881058],
    gains: [
      [20, 5.9994],
      [200, 3],
      [400, 0.3762],
    ],
  },
  {
    shape: { kind: 'highShelf', hz: 5000, slope: 1, gainDb: -6 },
    rateHz: 48000,
    b: [0.584799156178, -0.564943922325, 0.199804663598],
    a: [-1.236520927307, 0.456180824757],
    gains: [
      [5000, -3],
      [10000, -5.7628],
    ],
  },
];

describe('biquads against the cookbook', () => {
  for (const { shape, rateHz, b, a, gains } of rows) {
    it(`CV-7.2: ${shape.kind} at ${shape.hz} Hz, ${rateHz} Hz: coefficients within 1e-12, gains within 1e-4 dB`, () => {
      const made = designBiquad(shape, rateHz);
      // The table has 12 decimals, so half of the last one, and a little for the double itself.
      for (const [value, expected] of [
        [made.b0, b[0]!],
        [made.b1, b[1]!],
        [made.b2, b[2]!],
        [made.a1, a[0]!],
        [made.a2, a[1]!],
      ] as const) {
        expect(Math.abs(value - expected)).toBeLessThan(1e-12);
      }
      for (const [hz, db] of gains) expect(Math.abs(biquadGainDb(made, hz, rateHz) - db)).toBeLessThan(1e-4);
    });
  }
});
