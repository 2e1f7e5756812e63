import { describe, expect, it } from 'vitest';
import type { TimingReport } from '../../../../core/pitch/timing.ts';
import { timingTable } from '../../../../renderer/steps/intonation/timing-layout.ts';

function timing(notes: readonly (readonly [number, number | null, number])[]): TimingReport {
  return {
    against: 'guide',
    voices: [
      {
        id: 'a',
        name: 'Alto',
        notes: notes.map(([sec, bar, lateMs]) => ({ sec, bar, lateMs, uncertaintyMs: 4 })),
        lateMs: 0,
        uncertaintyMs: 4,
        attackMs: 4,
        lag: null,
        spreadMs: 5,
        sentence: null,
      },
    ],
    bars: [{ bar: 2, sec: 4, spreadMs: 37, count: 2 }],
    spreadMs: 37,
    thresholds: [],
  };
}

describe('early and late by bar', () => {
  it('is the mean of the notes of each bar, bars in order of time, with the spread beside', () => {
    const table = timingTable(
      timing([
        [4, 2, 30],
        [5, 2, 34],
        [6, 3, -3],
        [2, 1, 25],
      ]),
    );
    expect(table.columns.map(({ bar, spreadMs }) => [bar, spreadMs])).toEqual([
      [1, null],
      [2, 37],
      [3, null],
    ]);
    const cells = table.voices[0]!.cells;
    expect(cells.map(({ column, lateMs, count }) => [column, lateMs, count])).toEqual([
      [0, 25, 1],
      [1, 32, 2],
      [2, -3, 1],
    ]);
    expect(cells[1]!.deviationMs).toBeCloseTo(2.83, 2);
  });

  it('speaks of 20 ms and more, and only beyond two standard deviations', () => {
    const isOut = (lates: readonly number[]): boolean =>
      timingTable(timing(lates.map((ms, n) => [n / 10, 1, ms]))).voices[0]!.cells[0]!.isOut;
    expect(isOut([19, 19, 19])).toBe(false);
    expect(isOut([25, 26, 27])).toBe(true);
    expect(isOut([-25, -26])).toBe(true);
    expect(isOut([60, -10, 25])).toBe(false);
  });

  it('falls back to stretches of 5 s where no bars are known', () => {
    const table = timingTable(
      timing([
        [1, null, 5],
        [4.9, null, 7],
        [12, null, 1],
      ]),
    );
    expect(table.columns.map(({ bar, fromSec }) => [bar, fromSec])).toEqual([
      [null, 0],
      [null, 10],
    ]);
    expect(table.voices[0]!.cells[0]!.count).toBe(2);
  });

  it('reaches at least 40 ms, and no more than 120', () => {
    expect(timingTable(timing([[1, 1, 3]])).reachMs).toBe(40);
    expect(timingTable(timing([[1, 1, 390]])).reachMs).toBe(120);
  });
});
