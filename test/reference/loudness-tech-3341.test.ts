import { describe, expect, it } from 'vitest';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { measure, measureBoth, type Stretch, toneOf } from '../core/loudness/signals.ts';

/** EBU Tech 3341 (2023), Table 1: the readings must be within this of the table. */
const TOLERANCE_LU = 0.1;
const SILENCE = Number.NEGATIVE_INFINITY;

function expectLu(reading: number, expected: number, what: string): void {
  expect(Math.abs(reading - expected), `${what} reads ${reading}, expected ${expected}`).toBeLessThanOrEqual(
    TOLERANCE_LU,
  );
}

function repeat(times: number, ...stretches: Stretch[]): Stretch[] {
  return Array.from({ length: times }, () => stretches).flat();
}

/** Readings of M and S every 10 ms, at the end of each step. */
function watch(samples: Float32Array): { momentary: number[]; shortTerm: number[] } {
  const meter = new LoudnessMeter({ rateHz: 48000, channels: 2, truePeak: 'off' });
  const momentary: number[] = [];
  const shortTerm: number[] = [];
  for (let from = 0; from + 480 <= samples.length; from += 480) {
    const step = samples.subarray(from, from + 480);
    meter.add([step, step]);
    momentary.push(meter.momentaryLufs);
    shortTerm.push(meter.shortTermLufs);
  }
  return { momentary, shortTerm };
}

describe('EBU Tech 3341 (2023), Table 1, loudness', () => {
  for (const [row, level] of [
    [1, -23],
    [2, -33],
  ] as const) {
    it(`CV-1.5 #${row}: 20 s at ${level} dBFS read M, S, I = ${level}.0 within 0.1 LU`, () => {
      const tone = toneOf([[20, level]]);
      const report = measureBoth(tone);
      expectLu(report.integratedLufs, level, 'I');
      expectLu(report.maxMomentaryLufs, level, 'max M');
      expectLu(report.maxShortTermLufs, level, 'max S');
      const { momentary, shortTerm } = watch(tone);
      expectLu(Math.min(...momentary.slice(40)), level, 'least M');
      expectLu(Math.min(...shortTerm.slice(300)), level, 'least S');
    });
  }

  const gated: readonly (readonly [number, readonly Stretch[]])[] = [
    [
      3,
      [
        [10, -36],
        [60, -23],
        [10, -36],
      ],
    ],
    [
      4,
      [
        [10, -72],
        [10, -36],
        [60, -23],
        [10, -36],
        [10, -72],
      ],
    ],
    [
      5,
      [
        [20, -26],
        [20.1, -20],
        [20, -26],
      ],
    ],
  ];
  for (const [row, stretches] of gated) {
    it(`CV-1.5 #${row}: the gates leave I = -23.0 within 0.1 LU`, () => {
      expectLu(measureBoth(toneOf(stretches)).integratedLufs, -23, 'I');
    });
  }

  it('CV-1.5 #6: 5.0 with L, R -28, C -24, Ls, Rs -30 reads I = -23.0 within 0.1 LU, and 5.1 the same whatever its LFE', () => {
    const [front, middle, side, loud] = [-28, -24, -30, -6].map((level) => toneOf([[20, level]]));
    const options = { truePeak: 'off' } as const;
    const surround = measure([front!, front!, middle!, side!, side!], options).integratedLufs;
    expectLu(surround, -23, 'I');
    expect(measure([front!, front!, middle!, loud!, side!, side!], options).integratedLufs).toBeCloseTo(surround, 9);
    const weights = [1.41, 1.41, 1, 1, 1];
    expect(measure([side!, side!, middle!, front!, front!], { ...options, weights }).integratedLufs).toBeCloseTo(
      surround,
      9,
    );
  });

  it('CV-1.5 #9: (1.34 s -20; 1.66 s -30) x 5 reads S = -23.0 within 0.1 LU, constant after 3 s', () => {
    const { shortTerm } = watch(toneOf(repeat(5, [1.34, -20], [1.66, -30])));
    for (const reading of shortTerm.slice(299)) expectLu(reading, -23, 'S');
  });

  it('CV-1.5 #10: 20 files, i x 0.15 s before 3 s at -23, each read max S = -23.0 within 0.1 LU', () => {
    for (let i = 0; i < 20; i++) {
      const report = measureBoth(
        toneOf([
          [i * 0.15, SILENCE],
          [3, -23],
          [1, SILENCE],
        ]),
      );
      expectLu(report.maxShortTermLufs, -23, `file ${i}`);
    }
  });

  it('CV-1.5 #11: live, S reaches -38, -37 ... -19 in turn within 0.1 LU', () => {
    const stretches = Array.from({ length: 20 }, (_, i): Stretch[] => [
      [i * 0.15, SILENCE],
      [3, -38 + i],
      [3 - i * 0.15, SILENCE],
    ]).flat();
    const { shortTerm } = watch(toneOf(stretches));
    for (let i = 0; i < 20; i++) {
      expectLu(Math.max(...shortTerm.slice(i * 600, (i + 1) * 600)), -38 + i, `tone ${i}`);
    }
  });

  it('CV-1.5 #12: (0.18 s -20; 0.22 s -30) x 25 reads M = -23.0 within 0.1 LU, constant after 1 s', () => {
    const { momentary } = watch(toneOf(repeat(25, [0.18, -20], [0.22, -30])));
    for (const reading of momentary.slice(99)) expectLu(reading, -23, 'M');
  });

  it('CV-1.5 #13: 20 files, i x 20 ms before 400 ms at -23, each read max M = -23.0 within 0.1 LU', () => {
    for (let i = 0; i < 20; i++) {
      const report = measureBoth(
        toneOf([
          [i * 0.02, SILENCE],
          [0.4, -23],
          [1, SILENCE],
        ]),
      );
      expectLu(report.maxMomentaryLufs, -23, `file ${i}`);
    }
  });

  it('CV-1.5 #14: live, M reaches -38, -37 ... -19 in turn within 0.1 LU', () => {
    const stretches = Array.from({ length: 20 }, (_, i): Stretch[] => [
      [i * 0.02, SILENCE],
      [0.4, -38 + i],
      [0.4 - i * 0.02, SILENCE],
    ]).flat();
    const { momentary } = watch(toneOf(stretches));
    for (let i = 0; i < 20; i++) {
      expectLu(Math.max(...momentary.slice(i * 80, (i + 1) * 80)), -38 + i, `tone ${i}`);
    }
  });
});

describe('EBU Tech 3342 (2023), loudness range', () => {
  const rows: readonly (readonly [number, readonly number[], number])[] = [
    [1, [-20, -30], 10],
    [2, [-20, -15], 5],
    [3, [-40, -20], 20],
    [4, [-50, -35, -20, -35, -50], 15],
  ];
  for (const [row, levels, rangeLu] of rows) {
    it(`CV-1.7 #${row}: 20 s each at ${levels.join(', ')} dBFS read ${rangeLu} LU within 0.05 (asked: 1)`, () => {
      const report = measureBoth(toneOf(levels.map((level): Stretch => [20, level])));
      expect(Math.abs(report.rangeLu - rangeLu)).toBeLessThan(0.05);
    });
  }
});
