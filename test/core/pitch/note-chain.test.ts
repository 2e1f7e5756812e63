import { describe, expect, it } from 'vitest';
import { alikeNotes, type HeardRow, pairNotes, type WrittenRow } from '../../../core/pitch/note-chain.ts';
import { Random } from '../../../core/signal/random.ts';
import { fullPairing } from './full-pairing.ts';

const COSTS = { pitchCents: 70, farthestCents: 140, timeSec: 0.5, farthestLate: 1.35 };

/** A line of written notes, and what was heard of it: some left out, some added, a tenth in another order, all off by chance. */
function invented(random: Random, length: number): { heard: HeardRow; written: Required<WrittenRow> } {
  const cents = Float64Array.from({ length }, () => 100 * Math.floor(12 * random.uniform()));
  const atSec = Float64Array.from({ length }, (_, n) => 0.4 * n);
  const played = Array.from({ length }, (_, n) => n)
    .filter(() => random.uniform() > 0.1)
    .flatMap((n) => (random.uniform() < 0.1 ? [n, Math.floor(length * random.uniform())] : [n]));
  const row = (value: (n: number) => number): Float64Array => Float64Array.from(played, value);
  const heard = {
    fromSec: row((n) => atSec[n]! + 0.15 * random.gaussian()),
    cents: row((n) => cents[n]! + 30 * random.gaussian()),
    added: row(() => 0.8 * random.uniform()),
  };
  return { heard, written: { cents, atSec } };
}

describe('pairing heard notes with written ones', () => {
  it.each([1, 2, 3, 4, 5])('finds what a table of all costs finds, times known (seed %i)', (seed) => {
    const { heard, written } = invented(new Random(seed), 150);
    const own = pairNotes(heard, written, COSTS);
    const full = fullPairing(heard, written, COSTS);
    expect(own.heardOf).toEqual(full.heardOf);
    expect(own.heardOf.filter((one) => one !== null).length).toBeGreaterThan(75);
    // Sums in another order: some hundred terms of about 1.
    expect(Math.abs(own.cost - full.cost)).toBeLessThan(1e-10);
  });

  it.each([11, 12, 13])(
    'finds the same to the last bit from lists of like pitches, times known or not (seed %i)',
    (seed) => {
      const { heard, written } = invented(new Random(seed), 150);
      const alikes = alikeNotes(heard.cents, written.cents, COSTS.farthestCents);
      const near = (one: number): number[] =>
        [...written.cents.keys()].filter((n) => Math.abs(written.cents[n]! - one) <= COSTS.farthestCents);
      expect(alikes.map((list) => [...list])).toEqual([...heard.cents].map(near));
      expect(pairNotes(heard, written, COSTS, alikes)).toEqual(pairNotes(heard, written, COSTS));
      const untimed = { cents: written.cents, atSec: undefined };
      expect(pairNotes(heard, untimed, COSTS, alikes)).toEqual(pairNotes(heard, untimed, COSTS));
    },
  );

  it.each([6, 7, 8, 9, 10])('finds as cheap a pairing as a table of all costs by pitch alone (seed %i)', (seed) => {
    const { heard, written } = invented(new Random(seed), 150);
    const own = pairNotes(heard, { cents: written.cents, atSec: undefined }, COSTS);
    const full = fullPairing(heard, { cents: written.cents, atSec: undefined }, COSTS);
    expect(Math.abs(own.cost - full.cost)).toBeLessThan(1e-10);
    // One note for two equal ones costs the same with either: which of them gets it the table leaves to its last bits.
    const gone = (heardOf: readonly (number | null)[]): number => heardOf.filter((one) => one === null).length;
    expect(gone(own.heardOf)).toBe(gone(full.heardOf));
  });

  it('gives a note that was heard once for two written alike to the first of them', () => {
    const heard = { fromSec: new Float64Array([1]), cents: new Float64Array([5]), added: new Float64Array([0.8]) };
    const written = { cents: new Float64Array([0, 0]), atSec: undefined };
    expect(pairNotes(heard, written, COSTS).heardOf).toEqual([0, null]);
  });

  it('pairs nothing where nothing was heard, or nothing is written', () => {
    const none = new Float64Array(0);
    const one = new Float64Array([0]);
    const silent = { fromSec: none, cents: none, added: none };
    expect(pairNotes(silent, { cents: one, atSec: one }, COSTS)).toEqual({ heardOf: [null], cost: 1 });
    const heard = { fromSec: one, cents: one, added: new Float64Array([0.5]) };
    expect(pairNotes(heard, { cents: none, atSec: none }, COSTS)).toEqual({ heardOf: [], cost: 0.5 });
  });

  it('finds the same where written times do not rise', () => {
    const { heard, written } = invented(new Random(11), 60);
    const atSec = written.atSec!.map((sec, n) => sec + (n % 7 === 3 ? -2.5 : 0));
    expect(pairNotes(heard, { ...written, atSec }, COSTS).heardOf).toEqual(
      fullPairing(heard, { ...written, atSec }, COSTS).heardOf,
    );
  });
});
