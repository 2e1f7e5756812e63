import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { type LaidRises, layRises } from './laid-rises.ts';
import { LINES, type Rises } from './trace.ts';

/** Bands in which recordings are compared; the band of this number is all lines together. */
export const BANDS = 20;

/** A spectrum, real and imaginary parts. */
interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** The highest peaks, highest first: lag in frames and value; the size that so many of all values are below. */
export interface Highest {
  readonly peaks: readonly { readonly steps: number; readonly value: number }[];
  readonly spread: number;
}

/** The share of values whose size makes the spread: that of one standard deviation. */
const SPREAD_SHARE = 0.68;

/**
 * Where two recordings' rises are summed over bands of lines and their spectra multiplied, summed and looked through.
 *
 * In WebAssembly where its SIMD is to be had, else in plain TypeScript; both give the same to the last bit. Rows that it gives are good until the next call of
 * anything that is to do with leakage. Memory: 8 bytes a sample of each spectrum and of four rows; where there is a kernel all of it lies there.
 */
export interface LagRoom {
  /** False once another room lies where this one did. */
  isOwn(): boolean;
  /** Two recordings anew; spectrum 0 becomes 0. */
  begin(one: Rises, other: Rises): void;
  /** A number a frame: the root of what begins in a band of one of them, without its mean; 0 behind. Bands are asked for in order. */
  band(side: 'one' | 'other', band: number): Float64Array;
  spectrum(index: number): Spectrum;
  /** Adds the product of spectrum `one`, turned round, and spectrum `other` to spectrum `sum`. */
  addCrossed(sum: number, one: number, other: number): void;
  /** The row that `highest` looks through: lags in a ring. */
  work(): Float64Array;
  /** For recordings of so many frames each. */
  highest(frames: number, otherFrames: number, most: number): Highest;
}

/** size: samples of a transform; spectra: how many there are to be. kernel: null for plain TypeScript. */
export function lagRoom(size: number, spectra: number, kernel: BleedKernel | null = bleedKernel()): LagRoom {
  return kernel === null ? new PlainRoom(size, spectra) : new KernelRoom(kernel, size, spectra);
}

/** Its first line, and the first beyond it. */
function linesOf(band: number): { begin: number; end: number } {
  if (band === BANDS) return { begin: 0, end: LINES };
  return { begin: Math.ceil((band * LINES) / BANDS), end: Math.ceil(((band + 1) * LINES) / BANDS) };
}

class KernelRoom implements LagRoom {
  readonly #kernel: BleedKernel;
  readonly #size: number;
  readonly #bins: number;
  readonly #spectra: number;
  readonly #work: number;
  readonly #rises: { one: Rises | undefined; other: Rises | undefined } = { one: undefined, other: undefined };
  /** Where those of each recording lie, once they were asked for. */
  #laid: { one: LaidRises | undefined; other: LaidRises | undefined } = { one: undefined, other: undefined };

  constructor(kernel: BleedKernel, size: number, spectra: number) {
    this.#kernel = kernel;
    this.#size = size;
    this.#bins = size / 2 + 1;
    this.#spectra = kernel.room('searched', 16 * this.#bins * spectra);
    this.#work = kernel.room('lags', 8 * size);
    kernel.searchedBy = this;
  }

  isOwn(): boolean {
    return this.#kernel.searchedBy === this;
  }

  begin(one: Rises, other: Rises): void {
    this.#rises.one = one;
    this.#rises.other = other;
    this.#laid = { one: undefined, other: undefined };
    this.#kernel.doubles(this.#spectra, 2 * this.#bins).fill(0);
  }

  band(side: 'one' | 'other', band: number): Float64Array {
    const laid = this.#laid[side] ?? this.#lay(side);
    this.#laid[side] = laid;
    const { begin, end } = linesOf(band);
    const { frames, from, next, line, by } = laid;
    const work = this.#kernel.doubles(this.#work, this.#size);
    this.#kernel.run.sumBand(from, next, line, by, frames, begin, end, this.#work);
    return work.fill(0, frames);
  }

  #lay(side: 'one' | 'other'): LaidRises {
    const kernel = this.#kernel;
    const rises = this.#rises[side]!;
    const laid = layRises(kernel, side === 'one' ? 'risesOfOne' : 'risesOfOther', rises);
    kernel.whole(laid.next, rises.frames).set(rises.riseFrom.subarray(0, rises.frames));
    return laid;
  }

  #at(index: number): number {
    return this.#spectra + 16 * this.#bins * index;
  }

  spectrum(index: number): Spectrum {
    const at = this.#at(index);
    const bins = this.#bins;
    return { re: this.#kernel.doubles(at, bins), im: this.#kernel.doubles(at + 8 * bins, bins) };
  }

  addCrossed(sum: number, one: number, other: number): void {
    this.#kernel.run.addCrossed(this.#at(sum), this.#at(one), this.#at(other), this.#bins);
  }

  work(): Float64Array {
    return this.#kernel.doubles(this.#work, this.#size);
  }

  highest(frames: number, otherFrames: number, most: number): Highest {
    const kernel = this.#kernel;
    const size = this.#size;
    const [values, sizes] = [kernel.room('values', 8 * size), kernel.room('sizes', 8 * size)];
    const order = kernel.room('order', 4 * most);
    const count = frames + otherFrames - 1;
    const least = 1 - frames;
    const place = Math.floor(count * SPREAD_SHARE);
    const found = kernel.run.highestPeaks(this.#work, size, least, count, place, values, sizes, order, most);
    const value = kernel.doubles(values, count);
    const peaks = Array.from(kernel.whole(order, found), (i) => ({ steps: i + least, value: value[i]! }));
    return { peaks, spread: kernel.doubles(sizes, 1)[0]! };
  }
}

class PlainRoom implements LagRoom {
  readonly #size: number;
  readonly #work: Float64Array;
  readonly #values: Float64Array;
  readonly #sizes: Float64Array;
  readonly #spectra: readonly Spectrum[];
  #sums: { readonly one: BandSums; readonly other: BandSums } | undefined;

  constructor(size: number, spectra: number) {
    this.#size = size;
    this.#work = new Float64Array(size);
    this.#values = new Float64Array(size);
    this.#sizes = new Float64Array(size);
    this.#spectra = Array.from({ length: spectra }, () => ({
      re: new Float64Array(size / 2 + 1),
      im: new Float64Array(size / 2 + 1),
    }));
  }

  isOwn(): boolean {
    return true;
  }

  begin(one: Rises, other: Rises): void {
    this.#sums = { one: new BandSums(one), other: new BandSums(other) };
    this.#spectra[0]!.re.fill(0);
    this.#spectra[0]!.im.fill(0);
  }

  band(side: 'one' | 'other', band: number): Float64Array {
    const work = this.#work.fill(0);
    this.#sums![side].fill(band, work);
    return work;
  }

  spectrum(index: number): Spectrum {
    return this.#spectra[index]!;
  }

  addCrossed(sum: number, one: number, other: number): void {
    addCrossed(this.#spectra[sum]!, this.#spectra[one]!, this.#spectra[other]!);
  }

  work(): Float64Array {
    return this.#work;
  }

  highest(frames: number, otherFrames: number, most: number): Highest {
    const least = 1 - frames;
    const values = this.#values.subarray(0, frames + otherFrames - 1);
    const sizes = this.#sizes.subarray(0, values.length);
    for (let i = 0; i < values.length; i++) {
      values[i] = this.#work[(i + least + this.#size) % this.#size]!;
      sizes[i] = Math.abs(values[i]!);
    }
    const spread = smallestBut(sizes, Math.floor(sizes.length * SPREAD_SHARE));
    const order: number[] = [];
    for (let i = 1; i + 1 < values.length; i++) {
      const value = values[i]!;
      if (!(value > 0 && value >= values[i - 1]! && value > values[i + 1]!)) continue;
      let place = order.length;
      while (place > 0 && values[order[place - 1]!]! < value) place--;
      if (place === most) continue;
      order.splice(place, 0, i);
      if (order.length > most) order.pop();
    }
    return { peaks: order.map((i) => ({ steps: i + least, value: values[i]! })), spread };
  }
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
    const { begin, end } = linesOf(band);
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
