import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';

/** A band of a spectrum, in single precision. */
export interface BandSpectrum {
  readonly re: Float32Array;
  readonly im: Float32Array;
}

/** A spectrum, a number a bin. */
export interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** Bins that count, both ends among them. */
export interface Band {
  readonly low: number;
  readonly high: number;
}

/**
 * Multiplies the band of a spectrum with that of another turned round, each line weighed by one over the first one's own power there,
 * which is averaged over thirteen lines.
 *
 * In WebAssembly where its SIMD is to be had, else in plain TypeScript; both give the same numbers to the last bit. One alone is to be at work at a
 * time: where there is a kernel, all of them share its memory.
 */
export interface CrossSpectrum {
  /** Where the spectrum is to be written before `with` is asked; good until something else of the line-up runs. */
  spectrum(): Spectrum;
  /** Its product with a band, of twice as many bins, 0 outside the band; good until the next call. */
  with(band: BandSpectrum): Spectrum;
}

/** bins: of the spectrum. kernel: null for plain TypeScript. */
export function crossSpectrum(bins: number, band: Band, kernel: BleedKernel | null = bleedKernel()): CrossSpectrum {
  return kernel === null ? new PlainCross(bins, band) : new KernelCross(kernel, bins, band);
}

class KernelCross implements CrossSpectrum {
  readonly #kernel: BleedKernel;
  readonly #bins: number;
  readonly #band: Band;
  readonly #fineBins: number;
  /** re, im, power and single powers, one behind the other. */
  readonly #spectra: number;
  readonly #fine: number;
  readonly #segment: number;

  constructor(kernel: BleedKernel, bins: number, band: Band) {
    this.#kernel = kernel;
    this.#bins = bins;
    this.#band = band;
    this.#fineBins = 2 * bins - 1;
    this.#spectra = kernel.room('spectra', 4 * this.#bytes);
    this.#fine = kernel.room('fine', 2 * 8 * this.#fineBins);
    this.#segment = kernel.room('segment', 2 * this.#segmentBytes);
    kernel.doubles(this.#fine, 2 * this.#fineBins).fill(0);
  }

  /** Of one row of the spectra; two numbers more are written. */
  get #bytes(): number {
    return 8 * (this.#bins + 2);
  }

  get #count(): number {
    return this.#band.high - this.#band.low + 1;
  }

  get #segmentBytes(): number {
    return 4 * (this.#count + 1);
  }

  spectrum(): Spectrum {
    const re = this.#kernel.doubles(this.#spectra, this.#bins);
    return { re, im: this.#kernel.doubles(this.#spectra + this.#bytes, this.#bins) };
  }

  with(band: BandSpectrum): Spectrum {
    const kernel = this.#kernel;
    const bytes = this.#bytes;
    const count = this.#count;
    const [re, im] = [this.#spectra, this.#spectra + bytes];
    const [power, single] = [re + 2 * bytes, re + 3 * bytes];
    const [bandRe, bandIm] = [this.#segment, this.#segment + this.#segmentBytes];
    kernel.floats(bandRe, count).set(band.re);
    kernel.floats(bandIm, count).set(band.im);
    const { low, high } = this.#band;
    kernel.run.smoothPower(re, im, this.#bins, high + 1, single, power);
    const [fineRe, fineIm] = [this.#fine, this.#fine + 8 * this.#fineBins];
    kernel.run.weighCross(re, im, power, low, count, bandRe, bandIm, fineRe, fineIm);
    const product = { re: kernel.doubles(fineRe, this.#fineBins), im: kernel.doubles(fineIm, this.#fineBins) };
    // Two bins at a time went one too far where their number is odd.
    product.re[high + 1] = 0;
    product.im[high + 1] = 0;
    return product;
  }
}

class PlainCross implements CrossSpectrum {
  readonly #band: Band;
  readonly #spectrum: Spectrum;
  readonly #fine: Spectrum;
  readonly #power: Float64Array;

  constructor(bins: number, band: Band) {
    this.#band = band;
    this.#spectrum = { re: new Float64Array(bins), im: new Float64Array(bins) };
    this.#fine = { re: new Float64Array(2 * bins - 1), im: new Float64Array(2 * bins - 1) };
    this.#power = new Float64Array(bins);
  }

  spectrum(): Spectrum {
    return this.#spectrum;
  }

  with(band: BandSpectrum): Spectrum {
    const { re, im } = this.#spectrum;
    const { low, high } = this.#band;
    const power = this.#power;
    smoothPower(re, im, power);
    for (let k = low; k <= high; k++) {
      const weight = 1 / (power[k]! + 1e-12);
      const gRe = band.re[k - low]!;
      const gIm = band.im[k - low]!;
      this.#fine.re[k] = weight * (re[k]! * gRe + im[k]! * gIm);
      this.#fine.im[k] = weight * (im[k]! * gRe - re[k]! * gIm);
    }
    return this.#fine;
  }
}

/** Power of a spectrum, averaged over thirteen lines. */
function smoothPower(re: Float64Array, im: Float64Array, power: Float64Array): void {
  const count = re.length;
  let sum = 0;
  for (let k = 0; k < 6; k++) sum += re[k]! * re[k]! + im[k]! * im[k]!;
  for (let k = 0; k < count; k++) {
    const come = k + 6;
    if (come < count) sum += re[come]! * re[come]! + im[come]! * im[come]!;
    power[k] = Math.max(sum, 0) / 13;
    const gone = k - 6;
    if (gone >= 0) sum -= re[gone]! * re[gone]! + im[gone]! * im[gone]!;
  }
}
