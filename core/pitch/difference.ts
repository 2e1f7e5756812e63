import { RealFft } from '../signal/fft.ts';

/**
 * YIN's difference function and its cumulative mean normalised form, for one window after another.
 * Source: de Cheveigne and Kawahara 2002, JASA 111, eq. 6 to 8: d(lag) = sum over j < W of (x[j] - x[j + lag])^2;
 * d'(0) = 1, d'(lag) = d(lag) / ((1 / lag) sum of d(1 ... lag)). W and the largest lag are half the window; the products come
 * from one correlation by FFT. `spectrumRe`, `spectrumIm` are the (unscaled, rectangular) spectrum of the whole window, which
 * is a by-product. Allocates nothing while running.
 */
export class Difference {
  readonly size: number;
  readonly half: number;
  /** d'(lag), lag 0 to half. */
  readonly normalised: Float64Array;
  readonly spectrumRe: Float64Array;
  readonly spectrumIm: Float64Array;
  readonly #fft: RealFft;
  readonly #first: Float64Array;
  readonly #firstRe: Float64Array;
  readonly #firstIm: Float64Array;
  readonly #products: Float64Array;

  /** size: a power of two, 16 and more. */
  constructor(size: number) {
    this.size = size;
    this.half = size / 2;
    this.#fft = new RealFft(size);
    this.normalised = new Float64Array(this.half + 1);
    this.spectrumRe = new Float64Array(this.#fft.bins);
    this.spectrumIm = new Float64Array(this.#fft.bins);
    this.#first = new Float64Array(size);
    this.#firstRe = new Float64Array(this.#fft.bins);
    this.#firstIm = new Float64Array(this.#fft.bins);
    this.#products = new Float64Array(size);
  }

  /** window: `size` samples, full scale 1; only read. */
  run(window: Float64Array): void {
    const { half, normalised } = this;
    const first = this.#first;
    for (let n = 0; n < half; n++) first[n] = window[n]!;
    this.#fft.forward(window, this.spectrumRe, this.spectrumIm);
    this.#fft.forward(first, this.#firstRe, this.#firstIm);
    const aRe = this.spectrumRe;
    const aIm = this.spectrumIm;
    const bRe = this.#firstRe;
    const bIm = this.#firstIm;
    for (let k = 0; k < bRe.length; k++) {
      const re = aRe[k]! * bRe[k]! + aIm[k]! * bIm[k]!;
      bIm[k] = aIm[k]! * bRe[k]! - aRe[k]! * bIm[k]!;
      bRe[k] = re;
    }
    this.#fft.inverse(bRe, bIm, this.#products);
    const products = this.#products;
    let energy = 0;
    for (let n = 0; n < half; n++) energy += window[n]! * window[n]!;
    const own = energy;
    let sum = 0;
    normalised[0] = 1;
    for (let lag = 1; lag <= half; lag++) {
      const gone = window[lag - 1]!;
      const come = lag === half ? 0 : window[lag + half - 1]!;
      energy += come * come - gone * gone;
      // The last lag would need a sample beyond the window; it only closes the row.
      const d = lag === half ? 1e300 : Math.max(0, own + energy - 2 * products[lag]!);
      sum += d;
      normalised[lag] = sum > 0 ? (d * lag) / sum : 1;
    }
  }
}
