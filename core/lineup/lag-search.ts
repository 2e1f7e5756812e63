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
/** The first recording's spectra are kept for the next search up to this length of a transform: 11 MB. */
const MOST_KEPT = 65536;

/** A spectrum, real and imaginary parts. */
interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/**
 * Searches for one recording's note beginnings in another's at every lag, in 20 bands and all together, by correlation in
 * the frequency domain. Bands are gone through one after the other, so that memory is some ten arrays of the
 * transform's length (some 4 MB for two recordings of 10 min), which are kept for the next search; so are, up to 13 min of
 * both together, the spectra of the first recording, which is often that of the next search too.
 */
export class LagSearch {
  #size = 0;
  #fft = new RealFft(64);
  #work = new Float64Array(0);
  #values = new Float64Array(0);
  #sizes = new Float64Array(0);
  #spectra: readonly Spectrum[] = [];
  /** Spectra of a recording's bands, as far as they were asked for, by transforms of the size at hand. */
  #kept: { readonly of: Rises; readonly bands: Map<number, Spectrum> } | undefined;

  /** Times in `other` less times in `one`. */
  peaks(one: Rises, other: Rises): LagPeaks {
    this.#makeRoom(one.frames + other.frames + 2);
    return { byLine: this.#search(one, other, 0, BANDS), broad: this.#search(one, other, BANDS, BANDS + 1) };
  }

  #makeRoom(steps: number): void {
    let size = 64;
    while (size < steps) size *= 2;
    if (size === this.#size) return;
    this.#size = size;
    this.#kept = undefined;
    this.#fft = new RealFft(size);
    this.#work = new Float64Array(size);
    this.#values = new Float64Array(size);
    this.#sizes = new Float64Array(size);
    this.#spectra = [emptySpectrum(size), emptySpectrum(size), emptySpectrum(size)];
  }

  #search(one: Rises, other: Rises, fromBand: number, toBand: number): LagPeak[] {
    if (one.frames === 0 || other.frames === 0) return [];
    const [room, spectrum, sum] = this.#spectra as [Spectrum, Spectrum, Spectrum];
    sum.re.fill(0);
    sum.im.fill(0);
    const [ofOne, ofOther] = [new BandSums(one), new BandSums(other)];
    for (let band = fromBand; band < toBand; band++) {
      this.#transform(ofOther, band, spectrum);
      addCrossed(sum, this.#spectrumOf(one, ofOne, band, room), spectrum);
    }
    const lags = this.#work;
    this.#fft.inverse(sum.re, sum.im, lags);
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
    const spread = smallestBut(sizes, Math.floor(sizes.length * 0.68)) || 1;
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

  /** Kept where it is not too long, else in `room`. */
  #spectrumOf(rises: Rises, sums: BandSums, band: number, room: Spectrum): Spectrum {
    if (this.#size > MOST_KEPT) return this.#transform(sums, band, room);
    if (this.#kept?.of !== rises) this.#kept = { of: rises, bands: new Map() };
    const { bands } = this.#kept;
    const spectrum = bands.get(band) ?? this.#transform(sums, band, emptySpectrum(this.#size));
    bands.set(band, spectrum);
    return spectrum;
  }

  #transform(sums: BandSums, band: number, spectrum: Spectrum): Spectrum {
    const work = this.#work.fill(0);
    sums.fill(band, work);
    this.#fft.forward(work, spectrum.re, spectrum.im);
    return spectrum;
  }
}

function emptySpectrum(size: number): Spectrum {
  return { re: new Float64Array(size / 2 + 1), im: new Float64Array(size / 2 + 1) };
}

/** Adds the product of one spectrum, turned round, and another to a sum. */
function addCrossed(sum: Spectrum, one: Spectrum, other: Spectrum): void {
  const { re: sumRe, im: sumIm } = sum;
  const { re: aRe, im: aIm } = one;
  const { re: bRe, im: bIm } = other;
  for (let k = 0; k < sumRe.length; k++) {
    sumRe[k]! += bRe[k]! * aRe[k]! + bIm[k]! * aIm[k]!;
    sumIm[k]! += bIm[k]! * aRe[k]! - bRe[k]! * aIm[k]!;
  }
}

/** The number that would stand at `place` if all were sorted; leaves them in another order (Hoare 1961, Algorithm 65: Find). */
function smallestBut(values: Float64Array, place: number): number {
  let from = 0;
  let to = values.length - 1;
  while (from < to) {
    const pivot = values[(from + to) >> 1]!;
    let low = from;
    let high = to;
    while (low <= high) {
      while (values[low]! < pivot) low++;
      while (values[high]! > pivot) high--;
      if (low > high) break;
      const swapped = values[low]!;
      values[low++] = values[high]!;
      values[high--] = swapped;
    }
    if (place <= high) to = high;
    else if (place >= low) from = low;
    else break;
  }
  return values[place]!;
}

/** Rises summed over bands of lines, which are asked for in order. */
class BandSums {
  readonly #rises: Rises;
  /** Up to which entry the rises of each frame were summed; they lie in order of their lines. */
  readonly #next: Uint32Array;

  constructor(rises: Rises) {
    this.#rises = rises;
    this.#next = rises.riseFrom.slice(0, rises.frames);
  }

  /** Those of a band (BANDS: of all), a number a frame, their root, without its mean. */
  fill(band: number, target: Float64Array): void {
    const { frames, riseFrom, riseLine, riseBy } = this.#rises;
    // Its first line, and the first beyond it.
    const begin = band === BANDS ? 0 : Math.ceil((band * LINES) / BANDS);
    const end = band === BANDS ? LINES : Math.ceil(((band + 1) * LINES) / BANDS);
    const next = this.#next;
    let sum = 0;
    for (let frame = 0; frame < frames; frame++) {
      const to = riseFrom[frame + 1]!;
      let at = next[frame]!;
      let all = 0;
      while (at < to && riseLine[at]! < begin) at++;
      for (; at < to && riseLine[at]! < end; at++) all += riseBy[at]!;
      next[frame] = at;
      // A root, so that one loud chord does not decide alone.
      const root = Math.sqrt(all);
      target[frame] = root;
      sum += root;
    }
    const mean = sum / Math.max(1, frames);
    for (let frame = 0; frame < frames; frame++) target[frame]! -= mean;
  }
}
