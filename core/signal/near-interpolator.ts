import { CHUNK_FRAMES, type FrameReader, type Interpolator, Staging } from './interpolator.ts';
import { makeFineTable, makeHalfBandTable } from './sinc-table.ts';

/** A step nearer to 1 than this puts images upon their own signal, where a shorter filter serves as well. */
const NEAR_UNITY = 0.002;
/** Half lengths of the half-band filter, and the band it is made for; with these the error at 0.9 of Nyquist is 0.01 dB. */
const HALF_NEAR_UNITY = 28;
const HALF_ELSE = 32;
const HALF_EDGE_NEAR_UNITY = 0.884;
const HALF_EDGE_ELSE = 0.886;
/** At twice the rate the sound ends at 0.45 of Nyquist, so that 12 taps err by -101 dB at most. */
export const FINE_TAPS = 12;
const FINE_EDGE = 0.45;
/** Linear interpolation between phases errs by (omega / phases)^2 / 8: -108 dB at 0.9 of the input's Nyquist. */
export const FINE_PHASES = 256;
export const FINE_LEAD = FINE_TAPS / 4;

/** Half of the half-band filter for a step. */
export function halfBandFor(step: number): Float64Array {
  return Math.abs(step - 1) < NEAR_UNITY
    ? makeHalfBandTable(HALF_NEAR_UNITY, HALF_EDGE_NEAR_UNITY)
    : makeHalfBandTable(HALF_ELSE, HALF_EDGE_ELSE);
}

/** The table of the second stage. */
export function fineTable(): Float64Array {
  return makeFineTable(FINE_TAPS, FINE_PHASES, FINE_EDGE);
}

/** The plain way, in double. */
export class NearInterpolator implements Interpolator {
  readonly reachFrames: number;
  readonly #step: number;
  readonly #half: Float64Array;
  readonly #fine = fineTable();
  readonly #staging: Staging;
  readonly #doubled: Float64Array;

  constructor(step: number) {
    this.#step = step;
    this.#half = halfBandFor(step);
    this.reachFrames = this.#half.length + FINE_LEAD + 1;
    const frames = Math.ceil(CHUNK_FRAMES * step) + 2 * FINE_LEAD + 8;
    this.#staging = new Staging(frames + 2 * this.#half.length);
    this.#doubled = new Float64Array(2 * frames);
  }

  run(
    input: FrameReader,
    startFrame: number,
    fromIndex: number,
    output: Float32Array,
    outputFrom: number,
    count: number,
  ): void {
    const step = this.#step;
    const half = this.#half;
    for (let done = 0; done < count; done += CHUNK_FRAMES) {
      const some = Math.min(CHUNK_FRAMES, count - done);
      const first = fromIndex + done;
      const base = Math.floor(startFrame + first * step) - FINE_LEAD;
      // A multiple of 4, because the half-band loop makes four at once; as many for every place, so that equal requests
      // need no new view.
      const frames = 4 * Math.ceil((Math.ceil((some - 1) * step) + 2 * FINE_LEAD + 3) / 4);
      const staged = this.#staging.read(input, base - half.length + 1, frames + 2 * half.length - 1);
      doubleRate(staged, this.#doubled, frames, half);
      interpolateFine(this.#doubled, base, this.#fine, startFrame, step, first, output, outputFrom + done, some);
    }
  }
}

/**
 * Twice the rate: doubled[2m] is a sample, doubled[2m + 1] the place midway to the next. Four at once with the samples in
 * registers: measured 2.7 times as fast as the plain loop. frames and half.length are multiples of 4.
 */
function doubleRate(x: Float64Array, doubled: Float64Array, frames: number, half: Float64Array): void {
  const length = half.length;
  for (let m = 0; m < frames; m += 4) {
    const a = m + length - 1;
    const b = m + length;
    let s0 = 0;
    let s1 = 0;
    let s2 = 0;
    let s3 = 0;
    let a1 = x[a + 1]!;
    let a2 = x[a + 2]!;
    let a3 = x[a + 3]!;
    let b0 = x[b]!;
    let b1 = x[b + 1]!;
    let b2 = x[b + 2]!;
    for (let j = 0; j < length; j += 4) {
      let c = half[j]!;
      const a0 = x[a - j]!;
      const b3 = x[b + j + 3]!;
      s0 += c * (a0 + b0);
      s1 += c * (a1 + b1);
      s2 += c * (a2 + b2);
      s3 += c * (a3 + b3);
      c = half[j + 1]!;
      a3 = x[a - j - 1]!;
      b0 = x[b + j + 4]!;
      s0 += c * (a3 + b1);
      s1 += c * (a0 + b2);
      s2 += c * (a1 + b3);
      s3 += c * (a2 + b0);
      c = half[j + 2]!;
      a2 = x[a - j - 2]!;
      b1 = x[b + j + 5]!;
      s0 += c * (a2 + b2);
      s1 += c * (a3 + b3);
      s2 += c * (a0 + b0);
      s3 += c * (a1 + b1);
      c = half[j + 3]!;
      a1 = x[a - j - 3]!;
      b2 = x[b + j + 6]!;
      s0 += c * (a1 + b3);
      s1 += c * (a2 + b0);
      s2 += c * (a3 + b1);
      s3 += c * (a0 + b2);
    }
    const to = 2 * m;
    doubled[to] = x[a]!;
    doubled[to + 1] = s0;
    doubled[to + 2] = x[a + 1]!;
    doubled[to + 3] = s1;
    doubled[to + 4] = x[a + 2]!;
    doubled[to + 5] = s2;
    doubled[to + 6] = x[a + 3]!;
    doubled[to + 7] = s3;
  }
}

/**
 * The second stage. With a step near 1 the same two rows of the table serve several frames running: then four are made at
 * once (measured 2 times as fast). Both ways add in one order, so the result is the same to the bit.
 */
function interpolateFine(
  doubled: Float64Array,
  base: number,
  table: Float64Array,
  start: number,
  step: number,
  first: number,
  output: Float32Array,
  outputFrom: number,
  count: number,
): void {
  for (let i = 0; i < count; ) {
    const place = start + (first + i) * step;
    const whole = Math.floor(place);
    const twice = (place - whole) * 2;
    const odd = twice >= 1 ? 1 : 0;
    const phase = (twice - odd) * FINE_PHASES;
    const row = Math.floor(phase);
    const from = 2 * (whole - base - FINE_LEAD) + odd + 1;
    const at = row * FINE_TAPS;
    if (i + 3 < count) {
      const place3 = start + (first + i + 3) * step;
      const phase3 = ((place3 - Math.floor(place3)) * 2 - odd) * FINE_PHASES;
      if (Math.floor(place3) === whole + 3 && phase3 >= row && phase3 < row + 1) {
        const place1 = start + (first + i + 1) * step;
        const place2 = start + (first + i + 2) * step;
        const part1 = ((place1 - Math.floor(place1)) * 2 - odd) * FINE_PHASES - row;
        const part2 = ((place2 - Math.floor(place2)) * 2 - odd) * FINE_PHASES - row;
        fourFrames(doubled, from, table, at, output, outputFrom + i, phase - row, part1, part2, phase3 - row);
        i += 4;
        continue;
      }
    }
    let lower = 0;
    let upper = 0;
    for (let j = 0; j < FINE_TAPS; j++) {
      const value = doubled[from + j]!;
      lower += table[at + j]! * value;
      upper += table[at + j + FINE_TAPS]! * value;
    }
    output[outputFrom + i] = lower + (phase - row) * (upper - lower);
    i++;
  }
}

function fourFrames(
  doubled: Float64Array,
  from: number,
  table: Float64Array,
  at: number,
  output: Float32Array,
  to: number,
  part0: number,
  part1: number,
  part2: number,
  part3: number,
): void {
  let v0 = doubled[from]!;
  let v1 = doubled[from + 1]!;
  let v2 = doubled[from + 2]!;
  let v3 = doubled[from + 3]!;
  let v4 = doubled[from + 4]!;
  let v5 = doubled[from + 5]!;
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  let d0 = 0;
  let d1 = 0;
  let d2 = 0;
  let d3 = 0;
  for (let j = 0; j < FINE_TAPS; j += 2) {
    const w0 = doubled[from + j + 6]!;
    const w1 = doubled[from + j + 7]!;
    let c = table[at + j]!;
    let d = table[at + j + FINE_TAPS]!;
    s0 += c * v0;
    s1 += c * v2;
    s2 += c * v4;
    s3 += c * w0;
    d0 += d * v0;
    d1 += d * v2;
    d2 += d * v4;
    d3 += d * w0;
    c = table[at + j + 1]!;
    d = table[at + j + 1 + FINE_TAPS]!;
    s0 += c * v1;
    s1 += c * v3;
    s2 += c * v5;
    s3 += c * w1;
    d0 += d * v1;
    d1 += d * v3;
    d2 += d * v5;
    d3 += d * w1;
    v0 = v2;
    v1 = v3;
    v2 = v4;
    v3 = v5;
    v4 = w0;
    v5 = w1;
  }
  output[to] = s0 + part0 * (d0 - s0);
  output[to + 1] = s1 + part1 * (d1 - s1);
  output[to + 2] = s2 + part2 * (d2 - s2);
  output[to + 3] = s3 + part3 * (d3 - s3);
}
