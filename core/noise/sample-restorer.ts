import { predictorTaps } from '../signal/linear-prediction.ts';
import type { ClipFacts } from './clip-facts.ts';

/** Order of the autoregressive model. 40 restored as well as 80 and 160 on the clipped takes that were measured. */
const ORDER = 40;
/** Times the model is found anew from what was restored. */
const ROUNDS = 3;
/** Times samples that would fall below the clip level are pinned to it and the others solved anew. */
const PINNINGS = 4;
/** A restored sample is at most this many times the clip level. */
const LARGEST = 4;

/**
 * Fills in unknown samples so that an autoregressive model of the stretch predicts it with the least squared error, model
 * and samples found in turn. Source: Janssen, Veldhuis and Vries 1986, IEEE Trans. ASSP 34(2); that cut samples lie beyond
 * the clip level is kept by pinning those that do not. Allocates nothing while running.
 */
export class SampleRestorer {
  readonly #stretch: Float64Array;
  readonly #windowed: Float64Array;
  readonly #known: Float64Array;
  readonly #unknown: Int32Array;
  readonly #signs: Float64Array;
  readonly #free: Int32Array;
  readonly #pinned: Uint8Array;
  readonly #band: Float64Array;
  readonly #right: Float64Array;
  readonly #correlation = new Float64Array(ORDER + 1);
  readonly #model = new Float64Array(ORDER + 1);
  readonly #spare = new Float64Array(ORDER + 1);
  readonly #kernel = new Float64Array(ORDER + 1);

  /** longest: frames of the longest stretch. */
  constructor(longest: number) {
    this.#stretch = new Float64Array(longest);
    this.#windowed = new Float64Array(longest);
    this.#known = new Float64Array(longest);
    this.#unknown = new Int32Array(longest);
    this.#signs = new Float64Array(longest);
    this.#free = new Int32Array(longest);
    this.#pinned = new Uint8Array(longest);
    this.#band = new Float64Array(longest * (ORDER + 1));
    this.#right = new Float64Array(longest);
  }

  /**
   * Restores the cut samples of `samples` in first ... end - 1, judging by from ... to - 1. Cut samples from `end` on are
   * unknown, too, but are left; samples before `first` are taken as mended.
   */
  restore(samples: Float64Array, from: number, to: number, first: number, end: number, clip: ClipFacts): void {
    const length = to - from;
    let count = 0;
    for (let n = 0; n < length; n++) {
      const sample = samples[from + n]!;
      this.#stretch[n] = sample;
      if (from + n >= first && Math.abs(sample) >= clip.threshold) {
        this.#unknown[count] = n;
        this.#signs[count] = Math.sign(sample);
        this.#pinned[count] = 0;
        count++;
      }
    }
    for (let round = 0; round < ROUNDS; round++) {
      this.#findModel(length);
      this.#pinned.fill(0, 0, count);
      for (let pinning = 0; pinning < PINNINGS; pinning++) {
        this.#solve(length, count, clip.level);
        if (!this.#pin(count, clip.level)) break;
      }
    }
    for (let u = 0; u < count; u++) {
      const n = this.#unknown[u]!;
      if (from + n >= end) break;
      const value = this.#stretch[n]! * this.#signs[u]!;
      samples[from + n] = this.#signs[u]! * Math.min(LARGEST * clip.level, Math.max(clip.level, value));
    }
  }

  /** Autocorrelation method (Hann window); then the model's own autocorrelation. */
  #findModel(length: number): void {
    const windowed = this.#windowed;
    for (let n = 0; n < length; n++) {
      windowed[n] = this.#stretch[n]! * (0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 0.5)) / length));
    }
    const correlation = this.#correlation;
    for (let lag = 0; lag <= ORDER; lag++) {
      let sum = 0;
      for (let n = lag; n < length; n++) sum += windowed[n]! * windowed[n - lag]!;
      correlation[lag] = sum;
    }
    correlation[0] = correlation[0]! * (1 + 1e-9) + 1e-12;
    const model = this.#model;
    predictorTaps(correlation, model, this.#spare);
    for (let lag = 0; lag <= ORDER; lag++) {
      let sum = 0;
      for (let j = 0; j + lag <= ORDER; j++) sum += model[j]! * model[j + lag]!;
      this.#kernel[lag] = sum;
    }
  }

  /** Solves for the samples that are not pinned: a banded, positive definite system, by Cholesky. */
  #solve(length: number, count: number, level: number): void {
    const known = this.#known;
    for (let n = 0; n < length; n++) known[n] = this.#stretch[n]!;
    let free = 0;
    for (let u = 0; u < count; u++) {
      const n = this.#unknown[u]!;
      if (this.#pinned[u] === 1) known[n] = this.#signs[u]! * level;
      else {
        known[n] = 0;
        this.#free[free++] = n;
      }
    }
    this.#fillSystem(length, free);
    this.#factorAndSolve(free);
    for (let u = 0; u < count; u++)
      if (this.#pinned[u] === 1) this.#stretch[this.#unknown[u]!] = known[this.#unknown[u]!]!;
    for (let i = 0; i < free; i++) this.#stretch[this.#free[i]!] = this.#right[i]!;
  }

  #fillSystem(length: number, free: number): void {
    const kernel = this.#kernel;
    const known = this.#known;
    const width = ORDER + 1;
    for (let i = 0; i < free; i++) {
      const n = this.#free[i]!;
      let sum = kernel[0]! * known[n]!;
      for (let lag = 1; lag <= ORDER; lag++) {
        const left = n - lag >= 0 ? known[n - lag]! : 0;
        const right = n + lag < length ? known[n + lag]! : 0;
        sum += kernel[lag]! * (left + right);
      }
      this.#right[i] = -sum;
      const row = i * width;
      this.#band.fill(0, row, row + width);
      this.#band[row] = kernel[0]! * (1 + 1e-6);
      for (let back = 1; back <= ORDER && back <= i; back++) {
        const distance = n - this.#free[i - back]!;
        if (distance > ORDER) break;
        this.#band[row + back] = kernel[distance]!;
      }
    }
  }

  /** band[i][d] holds row i, column i - d; becomes the Cholesky factor; right becomes the solution. */
  #factorAndSolve(free: number): void {
    const band = this.#band;
    const right = this.#right;
    const width = ORDER + 1;
    for (let i = 0; i < free; i++) {
      const reach = Math.min(ORDER, i);
      for (let d = reach; d >= 0; d--) {
        const j = i - d;
        let sum = band[i * width + d]!;
        const overlap = Math.min(ORDER - d, j);
        for (let e = 1; e <= overlap; e++) sum -= band[i * width + d + e]! * band[j * width + e]!;
        if (d > 0) band[i * width + d] = sum / band[j * width]!;
        else band[i * width] = Math.sqrt(Math.max(sum, 1e-12));
      }
      let sum = right[i]!;
      for (let d = 1; d <= reach; d++) sum -= band[i * width + d]! * right[i - d]!;
      right[i] = sum / band[i * width]!;
    }
    for (let i = free - 1; i >= 0; i--) {
      const value = right[i]! / band[i * width]!;
      right[i] = value;
      const reach = Math.min(ORDER, i);
      for (let d = 1; d <= reach; d++) right[i - d]! -= band[i * width + d]! * value;
    }
  }

  /** Pins free samples that fall short of the clip level; whether there were any. */
  #pin(count: number, level: number): boolean {
    let any = false;
    for (let u = 0; u < count; u++) {
      if (this.#pinned[u] === 1 || this.#stretch[this.#unknown[u]!]! * this.#signs[u]! >= level) continue;
      this.#pinned[u] = 1;
      any = true;
    }
    return any;
  }
}
