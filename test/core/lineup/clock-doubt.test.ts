import { describe, expect, it } from 'vitest';
import { BLEED_REACH_SEC, LAG_HZ } from '../../../core/lineup/bleed-rows.ts';
import { doubtAt, doubtsOf, type JumpDoubt } from '../../../core/lineup/clock-doubt.ts';
import { type HeldRows, HeldSums } from '../../../core/lineup/held-sums.ts';
import { jumpOdds, type Mark, sureJump } from '../../../core/lineup/jump-odds.ts';
import { type Lateness, StepTest } from '../../../core/lineup/step-test.ts';
import { Random } from '../../../core/signal/random.ts';

const ROWS = 48;
const MIDDLE = BLEED_REACH_SEC * LAG_HZ;
/** Height of the leakage in one row, standard deviations: 9 in all. */
const HEIGHT = 1.3;

/** One row a second of unit variance; offAt: where the leakage lies in each, s, undefined where it is not heard. */
function heldRows(seed: number, offAt: (row: number) => number | undefined, height = HEIGHT): HeldRows {
  const random = new Random(seed);
  const rows = Array.from({ length: ROWS }, (_, n) => {
    // Sums of three values in -1..1 have unit variance and are near enough to normal.
    const row = Float64Array.from({ length: 2 * MIDDLE + 1 }, () => {
      return 2 * (random.uniform() + random.uniform() + random.uniform()) - 3;
    });
    const offSec = offAt(n);
    if (offSec !== undefined) row[Math.round(MIDDLE + offSec * LAG_HZ)]! += height;
    return row;
  });
  return { rows, times: rows.map((_, n) => n), variances: rows.map(() => 1), lags: rows.map(() => MIDDLE) };
}

/** Stretches of 4 s, late by a step from 24 s on, s, and by a player's scatter. */
function notes(seed: number, stepSec: number): Lateness[] {
  const random = new Random(seed);
  return Array.from({ length: 12 }, (_, n) => {
    const laterSec = (n >= 6 ? stepSec : 0) + 0.008 * (random.uniform() - 0.5);
    return { atSec: 2 + 4 * n, laterSec, weight: 1 };
  });
}

function jumpDoubts(rows: HeldRows, lateness: readonly Lateness[], marks: readonly Mark[] = []): JumpDoubt[] {
  const [held, notes] = [new HeldSums(rows), new StepTest(lateness)];
  return doubtsOf(jumpOdds({ fromSec: 0, toSec: ROWS, held, notes, marks }));
}

const doubtMs = (rows: HeldRows, lateness: readonly Lateness[], atSec: number): number =>
  1e3 * Math.sqrt(doubtAt(jumpDoubts(rows, lateness), atSec));

describe('the doubt about a clock along a take', () => {
  it('stays under 3 ms where leakage is heard all along at 9 standard deviations', () => {
    // One take in 20 jumps by 20 ms or so: without any evidence it would be 4 ms and more.
    for (const seed of [1, 2, 3, 4]) {
      const doubts = jumpDoubts(
        heldRows(seed, () => 0),
        notes(seed, 0),
      );
      for (const atSec of [0, 24, 47]) expect(Math.sqrt(doubtAt(doubts, atSec))).toBeLessThan(0.003);
    }
  });

  it('passes 10 ms behind a jump of 20 ms at half the take, and stays under 2 ms before it', () => {
    for (const seed of [1, 2, 3, 4]) {
      const rows = heldRows(seed, (n) => (n < 24 ? 0 : -0.02));
      const lateness = notes(seed, -0.02);
      // A take that certainly jumped lies off by 20 ms.
      expect(doubtMs(rows, lateness, 47)).toBeGreaterThan(10);
      expect(doubtMs(rows, lateness, 47)).toBeLessThan(25);
      expect(doubtMs(rows, lateness, 4)).toBeLessThan(2);
    }
  });

  it('passes 10 ms before a jump where the clock holds behind it', () => {
    const rows = heldRows(5, (n) => (n < 24 ? 0.02 : 0));
    expect(doubtMs(rows, notes(5, -0.02), 2)).toBeGreaterThan(10);
    expect(doubtMs(rows, notes(5, -0.02), 44)).toBeLessThan(2);
  });

  it('is 1 to 15 ms where half of the leakage is drowned, and under 1 ms where steady notes show no step there', () => {
    const rows = heldRows(6, (n) => (n < 24 ? 0 : undefined));
    expect(doubtMs(rows, [], 47)).toBeGreaterThan(1);
    expect(doubtMs(rows, [], 47)).toBeLessThan(15);
    expect(doubtMs(rows, notes(6, 0), 47)).toBeLessThan(1);
  });

  it('is less where a clap by hand, good to 12 ms, lies on its cue in the part that is not heard', () => {
    const rows = heldRows(6, (n) => (n < 24 ? 0 : undefined));
    const clap = { atSec: 46, laterSec: 0, errorSec: 0.012 };
    const [without, beside] = [jumpDoubts(rows, []), jumpDoubts(rows, [], [clap])].map((one) => doubtAt(one, 47));
    expect(beside).toBeLessThan(0.7 * without!);
  });

  it('has none without rows', () => {
    expect(jumpDoubts({ rows: [], times: [], variances: [], lags: [] }, [])).toEqual([]);
  });
});

describe('the odds of a jump', () => {
  it('are told at its break also where loud leakage speaks for it with more nepers than a number holds', () => {
    // 62 standard deviations: 1000 nepers, and e^710 is no number any more.
    for (const seed of [1, 2, 3, 4]) {
      const held = new HeldSums(heldRows(seed, (n) => (n < 24 ? 0 : -0.02), 9));
      const breaks = [8.5, 23.5, 40.5].map((atSec) => ({ atSec, takeSec: atSec, evidence: 5 }));
      const odds = jumpOdds({ fromSec: 0, toSec: ROWS, held, breaks, isScanned: () => true });
      expect(Math.max(...odds.map(({ gain }) => gain))).toBeGreaterThan(800);
      const all = odds.reduce((sum, { likely }) => sum + likely, 0);
      expect(all, `seed ${seed}`).toBeGreaterThan(0.99);
      expect(all, `seed ${seed}`).toBeLessThan(1 + 1e-9);
      const jump = sureJump(odds);
      expect(jump?.atSec, `seed ${seed}`).toBe(23.5);
      expect(jump?.side, `seed ${seed}`).toBe('after');
      expect(Math.abs(jump!.likeliestOffSec + 0.02), `seed ${seed}`).toBeLessThan(1e-4);
    }
  });

  it('are told by notes and break together also where the phases are sure of a wrong amount, and the notes then have the amount', () => {
    // A player's notes step by 20 ms to some ms; the phases of a low note have it two periods elsewhere, by 25 nepers.
    for (const seed of [1, 2, 3, 4]) {
      const lateness = new StepTest(notes(seed, -0.02));
      const amount = (stepSec: number): number => (Math.abs(stepSec - 0.021) < 0.0002 ? 25 : 0);
      const breaks = [{ atSec: 24, takeSec: 24, evidence: 7, amount }];
      const odds = jumpOdds({ fromSec: 0, toSec: ROWS, notes: lateness, breaks, isScanned: () => true });
      const jump = sureJump(odds);
      expect(jump?.atSec, `seed ${seed}`).toBe(24);
      expect(Math.abs(jump!.offSec + 0.02), `seed ${seed}`).toBeLessThan(0.005);
    }
  });

  it('stay with the phases where they and the notes agree: the amount is exact', () => {
    for (const seed of [1, 2, 3, 4]) {
      const lateness = new StepTest(notes(seed, -0.02));
      const amount = (stepSec: number): number => (Math.abs(stepSec + 0.0213) < 0.0002 ? 25 : 0);
      const breaks = [{ atSec: 24, takeSec: 24, evidence: 7, amount }];
      const jump = sureJump(jumpOdds({ fromSec: 0, toSec: ROWS, notes: lateness, breaks, isScanned: () => true }));
      expect(Math.abs(jump!.offSec + 0.0213), `seed ${seed}`).toBeLessThan(0.0005);
    }
  });
});
