import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { BLEED_REACH_SEC, LAG_HZ } from './bleed-rows.ts';
import { cubicAt } from './cubic-row.ts';

/** The guide's leakage, row by row, held against a clock. */
export interface HeldRows {
  readonly rows: readonly Float64Array[];
  /** Session times, s. */
  readonly times: readonly number[];
  readonly variances: readonly number[];
  /** Where the clock lies in each row, lag steps. */
  readonly lags: readonly number[];
}

/** What leakage says of a jump at one place. */
export interface HeldAt {
  /** Adds what it says for one side's lying off by each lag, over none, nepers; lag steps from the first of all. */
  addGains(side: 'after' | 'before', gains: Float64Array): void;
  /** For one side's being drowned, over none, nepers. */
  drowned(side: 'after' | 'before'): number;
}

/** The player's own notes are like the guide's, so that correlations stray more than by chance: so much of what they say is believed. */
const BELIEVED = 0.7;
/** The clock is known to this many lag steps. */
const NEAR = 3;
const REACH = BLEED_REACH_SEC * LAG_HZ;
const WIDTH = 2 * REACH + 1;

/**
 * Rows of leakage summed on either side of a place, each along the clock.
 *
 * For rows of total variance v and a sum x at a lag, the likelihood over chance is x^2 / 2v, their gain being the one that fits best; of that seven tenths are believed.
 * Time and memory: a row of 1537 numbers for each row.
 */
export class HeldSums {
  readonly #held: HeldRows;
  readonly #total: number;
  /** Sums of the rows before each index, WIDTH numbers each. */
  readonly #before: Float64Array;
  readonly #none: number;

  /** kernel: null for plain TypeScript, which gives the same to the last bit. */
  constructor(held: HeldRows, kernel: BleedKernel | null = bleedKernel()) {
    this.#held = held;
    this.#total = held.variances.reduce((sum, variance) => sum + variance, 0);
    this.#before = sumsBefore(held, kernel);
    this.#none = heightOf(valueNear(this.#sumBefore(held.rows.length)), this.#total);
  }

  #sumBefore(index: number): Float64Array {
    return this.#before.subarray(index * WIDTH, (index + 1) * WIDTH);
  }

  /** Session times between which about as much can be heard, at most `most`; none where nothing is. */
  places(most: number): number[] {
    const { variances, times } = this.#held;
    const places: number[] = [];
    let passed = 0;
    for (let i = 0; i + 1 < variances.length && places.length < most; i++) {
      passed += variances[i]!;
      if (passed * (most + 1) < (places.length + 1) * this.#total || passed === 0) continue;
      places.push(0.5 * (times[i]! + times[i + 1]!));
    }
    return places;
  }

  at(atSec: number): HeldAt {
    const { times, variances } = this.#held;
    const next = times.findIndex((sec) => sec > atSec);
    const index = next < 0 ? times.length : next;
    const head = this.#sumBefore(index);
    const tail = this.#sumBefore(this.#held.rows.length).slice();
    for (let lag = 0; lag < WIDTH; lag++) tail[lag]! -= head[lag]!;
    const passed = variances.slice(0, index).reduce((sum, variance) => sum + variance, 0);
    const nears = { after: valueNear(head), before: valueNear(tail) };
    const total = Math.max(this.#total, Number.MIN_VALUE);
    return {
      addGains: (side, gains) => {
        addHeights(gains, side === 'after' ? tail : head, nears[side], total, this.#none);
      },
      drowned: (side) => heightOf(nears[side], side === 'after' ? passed : total - passed) - this.#none,
    };
  }
}

/** Sums of the rows before each index along the clock, one behind the other. */
function sumsBefore({ rows, lags }: HeldRows, kernel: BleedKernel | null): Float64Array {
  const sums = new Float64Array((rows.length + 1) * WIDTH);
  if (kernel === null || rows.length === 0) {
    for (let i = 0; i < rows.length; i++) addRow(sums, i * WIDTH, rows[i]!, lags[i]! - REACH);
    return sums;
  }
  const width = rows[0]!.length;
  const [row, line] = [kernel.room('row', 8 * width), kernel.room('line', 8 * WIDTH)];
  const [rowOf, sum] = [kernel.doubles(row, width), kernel.doubles(line, WIDTH).fill(0)];
  for (let i = 0; i < rows.length; i++) {
    rowOf.set(rows[i]!);
    kernel.run.addCubic(line, row, width, lags[i]! - REACH, WIDTH);
    sums.set(sum, (i + 1) * WIDTH);
  }
  return sums;
}

/** The sum of one row more goes behind the sum that begins at `before`. */
function addRow(sums: Float64Array, before: number, row: Float64Array, shift: number): void {
  for (let lag = 0; lag < WIDTH; lag++) {
    sums[before + WIDTH + lag] = sums[before + lag]! + cubicAt(row, lag + shift);
  }
}

function addHeights(gains: Float64Array, off: Float64Array, near: number, total: number, none: number): void {
  for (let lag = 0; lag < WIDTH; lag++) gains[lag]! += heightOf(near + off[lag]!, total) - none;
}

/** Half the square of a height, nepers. */
function heightOf(value: number, variance: number): number {
  return variance > 0 ? (BELIEVED * 0.5 * Math.max(0, value) ** 2) / variance : 0;
}

function valueNear(sum: Float64Array): number {
  return Math.max(...sum.subarray(REACH - NEAR, REACH + NEAR + 1));
}
