import { symmetricSum } from '../signal/side-sums.ts';
import { makeWindow } from '../signal/window.ts';

/**
 * Taps for each input frame of a step; with 24 what folds back into the lower 0.8 of the new band lies below -75 dB, measured for
 * steps 2, 4 and 8.
 */
const TAPS_PER_STEP = 24;

/**
 * Every `step`th frame of one channel behind a low pass (windowed sinc, Blackman, cut at 0.9 of the new half rate), block by
 * block. Output frame m lies at input frame m * step: the filter's delay is taken out. step: whole, 1 to 64; 1 copies.
 * Samples come as Float32Array and leave as doubles. Memory: the taps.
 */
export class Decimator {
  readonly #step: number;
  readonly #taps: Float64Array;
  readonly #half: number;
  #kept: Float64Array;
  #count: number;

  constructor(step: number) {
    this.#step = step;
    this.#taps = decimatorTaps(step);
    this.#half = this.#taps.length - 1;
    this.#kept = new Float64Array(4096 + 2 * this.#half);
    this.#count = this.#half;
  }

  /** Takes input frames; writes the output frames that are ready to `output` from `at` on, and gives how many. */
  add(samples: Float32Array, output: Float64Array, at: number): number {
    const piece = this.#kept.length - 2 * this.#half - this.#step;
    let given = 0;
    for (let from = 0; from < samples.length; from += piece) {
      const to = Math.min(samples.length, from + piece);
      for (let n = from; n < to; n++) this.#kept[this.#count++] = samples[n]!;
      given += this.#drain(output, at + given);
    }
    return given;
  }

  /** Gives the frames that wait for what comes after the end, as `add`. */
  flush(output: Float64Array, at: number): number {
    for (let n = 0; n < this.#half; n++) this.#kept[this.#count++] = 0;
    return this.#drain(output, at);
  }

  #drain(output: Float64Array, at: number): number {
    const taps = this.#taps;
    const kept = this.#kept;
    const half = this.#half;
    let given = 0;
    let from = 0;
    for (; from + 2 * half < this.#count; from += this.#step) {
      output[at + given++] = symmetricSum(taps, kept, from + half, half);
    }
    kept.copyWithin(0, from, this.#count);
    this.#count -= from;
    return given;
  }
}

/** The taps of a step's low pass from the middle one on; beside it a multiple of four, or none. step: whole, 1 to 64. */
export function decimatorTaps(step: number): Float64Array {
  if (!Number.isInteger(step) || step < 1 || step > 64) throw new RangeError(`step is ${step}; allowed 1 to 64, whole`);
  const half = (TAPS_PER_STEP * step) / 2;
  return step === 1 ? Float64Array.of(1) : lowPassTaps(half, 0.9 / step).subarray(half);
}

/** 2 * half + 1 taps of a low pass; cut: share of the input's half rate. The sum is 1. */
function lowPassTaps(half: number, cut: number): Float64Array {
  const window = makeWindow('blackman', 2 * half + 2);
  const taps = new Float64Array(2 * half + 1);
  let sum = 0;
  for (let k = 0; k < taps.length; k++) {
    const x = cut * (k - half);
    taps[k] = window[k + 1]! * (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x));
    sum += taps[k]!;
  }
  for (let k = 0; k < taps.length; k++) taps[k]! /= sum;
  return taps;
}
