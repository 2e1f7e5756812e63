import type { FftEngine } from './fft-engine.ts';
import { ScriptFft } from './script-fft.ts';
import { simdFft } from './simd-fft.ts';

/**
 * Discrete Fourier transform of real input, planned once and run many times.
 *
 * X[k] = sum over n of x[n] exp(-2 pi i k n / N), k = 0 ... N/2; the forward transform is not scaled, the inverse is
 * scaled by 1/N, so that inverse(forward(x)) = x. Sizes: powers of two, 8 to 2^20. All buffers are Float64Array. No allocation
 * while running. In WebAssembly where its SIMD is to be had, else in plain TypeScript; both give the same numbers to the last bit.
 */
export class RealFft {
  readonly size: number;
  /** N/2 + 1. */
  readonly bins: number;
  readonly #engine: FftEngine;

  constructor(size: number) {
    if (size < 8 || size > 1 << 20 || (size & (size - 1)) !== 0) {
      throw new RangeError(`size is ${size}; allowed powers of two from 8 to 1048576`);
    }
    this.size = size;
    this.bins = size / 2 + 1;
    this.#engine = simdFft(size) ?? new ScriptFft(size);
  }

  /** input: N samples; re, im: N/2 + 1 bins each, overwritten. im[0] and im[N/2] become 0. */
  forward(input: Float64Array, re: Float64Array, im: Float64Array): void {
    this.#engine.forward(input, re, im);
  }

  /** re, im: N/2 + 1 bins (im[0] and im[N/2] are taken as 0); output: N samples, overwritten. */
  inverse(re: Float64Array, im: Float64Array, output: Float64Array): void {
    this.#engine.inverse(re, im, output);
  }
}
