import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { cubicAt } from './cubic-row.ts';

/**
 * Rows of one width that are added up again and again, each moved by some lags.
 *
 * In WebAssembly where its SIMD is to be had, else in plain TypeScript; both give the same numbers to the last bit. Memory: 8 bytes a lag of
 * each row where there is a kernel; rows and sums then lie there until the next ones are made.
 */
export interface ShiftedRows {
  /**
   * Fills sum `to` with rows from..to-1 of the rows, lag l of it with the sum of lags l + shifts[i] of row i; what lies outside a row
   * counts as 0.
   */
  sumRows(to: number, fromRow: number, shifts: ArrayLike<number>): void;
  /** The sums added up likewise; good until the next call. */
  lineOfSums(shifts: ArrayLike<number>): Float64Array;
  /** The rows added up likewise. */
  lineOfRows(shifts: ArrayLike<number>): Float64Array;
  /** All rows read where a line goes through them, summed: row i, `apartSec[i]` from the middle, at `lag` and what `ppm` makes of that. */
  sumOnLine(apartSec: Float64Array, lag: number, ppm: number, lagHz: number): number;
}

/** sums: how many there are to be. kernel: null for plain TypeScript. */
export function shiftedRows(
  rows: readonly Float64Array[],
  sums: number,
  kernel: BleedKernel | null = bleedKernel(),
): ShiftedRows {
  return kernel === null ? new PlainRows(rows, sums) : new KernelRows(kernel, rows, sums);
}

class KernelRows implements ShiftedRows {
  readonly #kernel: BleedKernel;
  readonly #width: number;
  readonly #rows: number;
  readonly #sums: number;
  readonly #line: number;
  readonly #shifts: number;
  readonly #apart: number;
  #apartOf: Float64Array | undefined;

  constructor(kernel: BleedKernel, rows: readonly Float64Array[], sums: number) {
    this.#kernel = kernel;
    const width = rows[0]!.length;
    this.#width = width;
    this.#rows = kernel.room('rows', 8 * width * rows.length);
    this.#sums = kernel.room('sums', 8 * width * sums);
    this.#line = kernel.room('line', 8 * width);
    this.#shifts = kernel.room('shifts', 4 * Math.max(rows.length, sums));
    this.#apart = kernel.room('apart', 8 * rows.length);
    rows.forEach((row, i) => {
      kernel.doubles(this.#rows + 8 * width * i, width).set(row);
    });
  }

  sumRows(to: number, fromRow: number, shifts: ArrayLike<number>): void {
    const rowBytes = 8 * this.#width;
    this.#add(this.#sums + rowBytes * to, this.#rows + rowBytes * fromRow, shifts);
  }

  lineOfSums(shifts: ArrayLike<number>): Float64Array {
    return this.#add(this.#line, this.#sums, shifts);
  }

  lineOfRows(shifts: ArrayLike<number>): Float64Array {
    return this.#add(this.#line, this.#rows, shifts);
  }

  sumOnLine(apartSec: Float64Array, lag: number, ppm: number, lagHz: number): number {
    const { run } = this.#kernel;
    if (this.#apartOf !== apartSec) this.#kernel.doubles(this.#apart, apartSec.length).set(apartSec);
    this.#apartOf = apartSec;
    return run.sumOnLine(this.#rows, this.#apart, apartSec.length, this.#width, lag, ppm, lagHz);
  }

  #add(line: number, rows: number, shifts: ArrayLike<number>): Float64Array {
    this.#kernel.whole(this.#shifts, shifts.length).set(shifts);
    const sum = this.#kernel.doubles(line, this.#width).fill(0);
    this.#kernel.run.addShifted(line, rows, this.#shifts, shifts.length, this.#width);
    return sum;
  }
}

class PlainRows implements ShiftedRows {
  readonly #rows: readonly Float64Array[];
  readonly #sums: readonly Float64Array[];
  readonly #line: Float64Array;

  constructor(rows: readonly Float64Array[], sums: number) {
    const width = rows[0]!.length;
    this.#rows = rows;
    this.#sums = Array.from({ length: sums }, () => new Float64Array(width));
    this.#line = new Float64Array(width);
  }

  sumRows(to: number, fromRow: number, shifts: ArrayLike<number>): void {
    addShifted(this.#sums[to]!.fill(0), this.#rows, fromRow, shifts);
  }

  lineOfSums(shifts: ArrayLike<number>): Float64Array {
    addShifted(this.#line.fill(0), this.#sums, 0, shifts);
    return this.#line;
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
