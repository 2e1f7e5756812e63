import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { cubicAt } from './cubic-row.ts';

/** A search along drifts: rows of a group are summed along coarse ones, these sums along fine ones. */
export interface DriftSearch {
  /** The rows' times, s, rising, and the time against which they are moved. */
  readonly times: Float64Array;
  readonly atSec: number;
  /** The first row of each group, and the end of the last; their times. */
  readonly starts: Int32Array;
  readonly middles: Float64Array;
  /** Fine drifts are whole numbers of finePpm, up to `steps` of them to either side. */
  readonly steps: number;
  readonly finePpm: number;
  readonly coarsePpm: number;
  readonly lagHz: number;
  /** What speaks against each lag, and against each drift, nepers. */
  readonly penalty: Float64Array;
  readonly rareness: Float64Array;
  /** Variance of a sum of all rows. */
  readonly total: number;
}

/** Where a search ended. */
export interface DriftFound {
  /** Half the square of the value in standard deviations, less what speaks against the place. */
  readonly score: number;
  readonly value: number;
  readonly lag: number;
  readonly ppm: number;
}

/**
 * Rows of one width that are added up again and again, each moved by some lags.
 *
 * In WebAssembly where its SIMD is to be had, else in plain TypeScript; both give the same numbers to the last bit. Memory: 8 bytes a lag of
 * each row where there is a kernel; rows and sums then lie there until the next ones are made.
 */
export interface ShiftedRows {
  /** The highest sum along any drift; what lies outside a row counts as 0. */
  highestAlong(search: DriftSearch): DriftFound;
  /** Lag l of the line is the sum of lags l + shifts[i] of row i; good until the next call. */
  lineOfRows(shifts: ArrayLike<number>): Float64Array;
  /** All rows read where a line goes through them, summed: row i, `apartSec[i]` from the middle, at `lag` and what `ppm` makes of that. */
  sumOnLine(apartSec: Float64Array, lag: number, ppm: number, lagHz: number): number;
}

/** kernel: null for plain TypeScript. */
export function shiftedRows(rows: readonly Float64Array[], kernel: BleedKernel | null = bleedKernel()): ShiftedRows {
  return kernel === null ? new PlainRows(rows) : new KernelRows(kernel, rows);
}

class KernelRows implements ShiftedRows {
  readonly #kernel: BleedKernel;
  readonly #width: number;
  readonly #rows: number;
  readonly #line: number;
  readonly #shifts: number;
  readonly #apart: number;
  #apartOf: Float64Array | undefined;

  constructor(kernel: BleedKernel, rows: readonly Float64Array[]) {
    this.#kernel = kernel;
    const width = rows[0]!.length;
    this.#width = width;
    this.#rows = kernel.room('rows', 8 * width * rows.length);
    this.#line = kernel.room('line', 8 * width);
    this.#shifts = kernel.room('shifts', 4 * rows.length);
    this.#apart = kernel.room('apart', 8 * rows.length);
    const lain = kernel.doubles(this.#rows, width * rows.length);
    for (let i = 0; i < rows.length; i++) lain.set(rows[i]!, width * i);
  }

  highestAlong({ times, atSec, starts, middles, penalty, rareness, total, ...search }: DriftSearch): DriftFound {
    const kernel = this.#kernel;
    const width = this.#width;
    const laid = (name: 'times' | 'middles' | 'penalty' | 'rareness', values: Float64Array): number => {
      const at = kernel.room(name, 8 * values.length);
      kernel.doubles(at, values.length).set(values);
      return at;
    };
    const startsAt = kernel.room('starts', 4 * starts.length);
    kernel.whole(startsAt, starts.length).set(starts);
    const found = kernel.run.highestAlong(
      this.#rows,
      width,
      laid('times', times),
      startsAt,
      laid('middles', middles),
      middles.length,
      atSec,
      search.steps,
      search.finePpm,
      search.coarsePpm,
      search.lagHz,
      laid('penalty', penalty),
      laid('rareness', rareness),
      total,
      kernel.room('sums', 8 * width * middles.length),
      this.#line,
      this.#shifts,
    );
    const [score, value, lag, ppm] = kernel.doubles(found, 4) as unknown as [number, number, number, number];
    return { score, value, lag, ppm };
  }

  lineOfRows(shifts: ArrayLike<number>): Float64Array {
    this.#kernel.whole(this.#shifts, shifts.length).set(shifts);
    const line = this.#kernel.doubles(this.#line, this.#width).fill(0);
    this.#kernel.run.addShifted(this.#line, this.#rows, this.#shifts, shifts.length, this.#width);
    return line;
  }

  sumOnLine(apartSec: Float64Array, lag: number, ppm: number, lagHz: number): number {
    const { run } = this.#kernel;
    if (this.#apartOf !== apartSec) this.#kernel.doubles(this.#apart, apartSec.length).set(apartSec);
    this.#apartOf = apartSec;
    return run.sumOnLine(this.#rows, this.#apart, apartSec.length, this.#width, lag, ppm, lagHz);
  }
}

class PlainRows implements ShiftedRows {
  readonly #rows: readonly Float64Array[];
  readonly #line: Float64Array;

  constructor(rows: readonly Float64Array[]) {
    this.#rows = rows;
    this.#line = new Float64Array(rows[0]!.length);
  }

  highestAlong({ times, atSec, starts, middles, steps, lagHz, ...search }: DriftSearch): DriftFound {
    const { finePpm, coarsePpm, penalty, rareness, total } = search;
    const line = this.#line;
    const sums = Array.from(middles, () => new Float64Array(line.length));
    const top = { score: Number.NEGATIVE_INFINITY, value: 0, lag: 1, ppm: 0 };
    // Fine drifts go from end to end, so that each coarse one comes once.
    let coarse = Number.NaN;
    for (let step = -steps; step <= steps; step++) {
      const ppm = step * finePpm;
      const nearest = Math.round(ppm / coarsePpm);
      if (nearest !== coarse) {
        sums.forEach((sum, n) => {
          const inside = times.subarray(starts[n], starts[n + 1]);
          const shifts = shiftsOf(inside, middles[n]!, nearest * coarsePpm, lagHz);
          addShifted(sum.fill(0), this.#rows, starts[n]!, shifts);
        });
      }
      coarse = nearest;
      addShifted(line.fill(0), sums, 0, shiftsOf(middles, atSec, ppm, lagHz));
      lookAlong(line, penalty, rareness[step + steps]!, total, ppm, top);
    }
    return top;
  }

  lineOfRows(shifts: ArrayLike<number>): Float64Array {
    addShifted(this.#line.fill(0), this.#rows, 0, shifts);
    return this.#line;
  }

  sumOnLine(apartSec: Float64Array, lag: number, ppm: number, lagHz: number): number {
    let sum = 0;
    for (let i = 0; i < apartSec.length; i++) {
      sum += cubicAt(this.#rows[i]!, lag + apartSec[i]! * ppm * 1e-6 * lagHz);
    }
    return sum;
  }
}

/** What a drift makes of each time's distance from `atSec`, to the nearest lag step. */
export function shiftsOf(times: Float64Array, atSec: number, ppm: number, lagHz: number): Int32Array {
  const shifts = new Int32Array(times.length);
  for (let i = 0; i < shifts.length; i++) shifts[i] = Math.round((times[i]! - atSec) * ppm * 1e-6 * lagHz);
  return shifts;
}

/** Looks whether anything on a line of sums of this variance is better than the best so far. */
function lookAlong(
  line: Float64Array,
  penalty: Float64Array,
  rareness: number,
  total: number,
  ppm: number,
  top: { score: number; value: number; lag: number; ppm: number },
): void {
  // Below it no lag can win, however likely.
  let bar = Math.sqrt(Math.max(0, 2 * total * (top.score + rareness)));
  for (let lag = 1; lag + 1 < line.length; lag++) {
    const value = line[lag]!;
    if (value <= bar) continue;
    const score = (0.5 * value * value) / total - penalty[lag]! - rareness;
    if (score <= top.score) continue;
    top.score = score;
    top.value = value;
    top.lag = lag;
    top.ppm = ppm;
    bar = Math.sqrt(Math.max(0, 2 * total * (score + rareness)));
  }
}

/** Adds rows from `first` on, each moved by its shift. */
function addShifted(line: Float64Array, rows: readonly Float64Array[], first: number, shifts: ArrayLike<number>): void {
  let i = 0;
  for (; i + 3 < shifts.length; i += 4) addFour(line, rows, first + i, shifts, i);
  for (; i < shifts.length; i++) addStretch(line, rows[first + i]!, shifts[i]!, 0, line.length);
}

/** Four rows in one walk: the line is then read and written once. */
function addFour(
  line: Float64Array,
  rows: readonly Float64Array[],
  first: number,
  shifts: ArrayLike<number>,
  at: number,
): void {
  const width = line.length;
  const [a, b, c, d] = [rows[first]!, rows[first + 1]!, rows[first + 2]!, rows[first + 3]!];
  const [shiftA, shiftB, shiftC, shiftD] = [shifts[at]!, shifts[at + 1]!, shifts[at + 2]!, shifts[at + 3]!];
  // Where all four reach.
  const from = Math.min(width, Math.max(0, -Math.min(shiftA, shiftB, shiftC, shiftD)));
  const to = Math.max(from, width - Math.max(0, shiftA, shiftB, shiftC, shiftD));
  for (let lag = from; lag < to; lag++) {
    line[lag]! += a[lag + shiftA]! + b[lag + shiftB]! + (c[lag + shiftC]! + d[lag + shiftD]!);
  }
  for (let n = 0; n < 4; n++) {
    addStretch(line, rows[first + n]!, shifts[at + n]!, 0, from);
    addStretch(line, rows[first + n]!, shifts[at + n]!, to, width);
  }
}

/** Adds what a moved row has between two lags. */
function addStretch(line: Float64Array, row: Float64Array, shift: number, fromLag: number, toLag: number): void {
  const from = Math.max(fromLag, -shift);
  const to = Math.min(toLag, line.length - shift);
  for (let lag = from; lag < to; lag++) line[lag]! += row[lag + shift]!;
}
