import { RealFft } from '../signal/fft.ts';
import { FRAME_SEC, LINES, type Rises } from './trace.ts';

/** A lag at which two recordings' note beginnings agree: time in the one less time in the other, s. */
export interface LagPeak {
  readonly lagSec: number;
  /** Height over the usual correlation at other lags, in robust standard deviations of it. */
  readonly height: number;
}

/** The lags at which a recording fits another best, best first. */
export interface LagPeaks {
  /** Band by band: for two recordings of the same notes. */
  readonly byLine: readonly LagPeak[];
  /** All bands together: for two recordings whose notes differ in pitch. */
  readonly broad: readonly LagPeak[];
}

const BANDS = 20;
/** Seconds a step of the search spans. */
export const COARSE_SEC = FRAME_SEC;
const MOST_PEAKS = 12;

/**
 * Searches for one recording's note beginnings in another's at every lag, in 20 bands and all together, by correlation in
 * the frequency domain. Bands are gone through one after the other, so that memory is some ten arrays of the
 * transform's length (some 4 MB for two recordings of 10 min), which are kept for the next search.
 */
export class LagSearch {
  #size = 0;
  #fft = new RealFft(64);
  #work = new Float64Array(0);
  #values = new Float64Array(0);
  #sizes = new Float64Array(0);
  #spectra: Float64Array[] = [];
  #sums: Float64Array[] = [];

  /** Times in `other` less times in `one`. */
  peaks(one: Rises, other: Rises): LagPeaks {
    this.#makeRoom(one.frames + other.frames + 2);
    return { byLine: this.#search(one, other, 0, BANDS), broad: this.#search(one, other, BANDS, BANDS + 1) };
  }

  #makeRoom(steps: number): void {
    let size = 64;
    while (size < steps) size *= 2;
    if (size === this.#size) return;
    const perBin = (): Float64Array => new Float64Array(size / 2 + 1);
    this.#size = size;
    this.#fft = new RealFft(size);
    this.#work = new Float64Array(size);
    this.#values = new Float64Array(size);
    this.#sizes = new Float64Array(size);
    this.#spectra = [perBin(), perBin(), perBin(), perBin()];
    this.#sums = [perBin(), perBin()];
  }

  #search(one: Rises, other: Rises, fromBand: number, toBand: number): LagPeak[] {
    if (one.frames === 0 || other.frames === 0) return [];
    const [aRe, aIm, bRe, bIm] = this.#spectra as [Float64Array, Float64Array, Float64Array, Float64Array];
    const [sumRe, sumIm] = this.#sums as [Float64Array, Float64Array];
    sumRe.fill(0);
    sumIm.fill(0);
    for (let band = fromBand; band < toBand; band++) {
      this.#transform(one, band, aRe, aIm);
      this.#transform(other, band, bRe, bIm);
      for (let k = 0; k < sumRe.length; k++) {
        sumRe[k]! += bRe[k]! * aRe[k]! + bIm[k]! * aIm[k]!;
        sumIm[k]! += bIm[k]! * aRe[k]! - bRe[k]! * aIm[k]!;
      }
    }
    const lags = this.#work;
    this.#fft.inverse(sumRe, sumIm, lags);
    return this.#highest(lags, one.frames, other.frames);
  }

  #highest(lags: Float64Array, steps: number, otherSteps: number): LagPeak[] {
    const size = this.#size;
    const least = -steps + 1;
    const values = this.#values.subarray(0, steps + otherSteps - 1);
    const sizes = this.#sizes.subarray(0, values.length);
    for (let i = 0; i < values.length; i++) {
      values[i] = lags[(i + least + size) % size]!;
      sizes[i] = Math.abs(values[i]!);
    }
    sizes.sort();
    const spread = sizes[Math.floor(sizes.length * 0.68)]! || 1;
    const order: number[] = [];
    for (let i = 1; i + 1 < values.length; i++) {
      const value = values[i]!;
      if (!(value > 0 && value >= values[i - 1]! && value > values[i + 1]!)) continue;
      let place = order.length;
      while (place > 0 && values[order[place - 1]!]! < value) place--;
      if (place === MOST_PEAKS) continue;
      order.splice(place, 0, i);
      if (order.length > MOST_PEAKS) order.pop();
    }
    return order.map((i) => ({ lagSec: (i + least) * COARSE_SEC, height: values[i]! / spread }));
  }

  #transform(rises: Rises, band: number, re: Float64Array, im: Float64Array): void {
    const work = this.#work.fill(0);
    sumBand(rises, band, work);
    this.#fft.forward(work, re, im);
  }
}

/** Rises summed over a band of lines (BANDS: over all), a number a frame, their root, without its mean. */
function sumBand(rises: Rises, band: number, target: Float64Array): void {
  const { frames, riseFrom, riseLine, riseBy } = rises;
  for (let frame = 0; frame < frames; frame++) {
    const to = riseFrom[frame + 1]!;
    for (let i = riseFrom[frame]!; i < to; i++) {
      if (band === BANDS || Math.floor((riseLine[i]! * BANDS) / LINES) === band) target[frame]! += riseBy[i]!;
    }
  }
  let sum = 0;
  for (let frame = 0; frame < frames; frame++) {
    // A root, so that one loud chord does not decide alone.
    target[frame] = Math.sqrt(target[frame]!);
    sum += target[frame]!;
  }
  const mean = sum / Math.max(1, frames);
  for (let frame = 0; frame < frames; frame++) target[frame]! -= mean;
}
