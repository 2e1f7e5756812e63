import { RealFft } from '../signal/fft.ts';
import { FRAME_SEC, LINES, type Trace } from './trace.ts';

/** A lag at which two recordings' note beginnings agree: time in the one less time in the other, s. */
export interface LagPeak {
  readonly lagSec: number;
  /** Height over the usual correlation at other lags, in robust standard deviations of it. */
  readonly height: number;
}

const BANDS = 20;
const COARSE_FRAMES = 1;
/** Seconds a step of the coarse search spans. */
export const COARSE_SEC = COARSE_FRAMES * FRAME_SEC;

/**
 * Prepares a recording to be searched for in others at any lag: its note beginnings in 20 bands and all together,
 * transformed once. Memory: some 180 kB a minute.
 */
export class OnsetPrint {
  readonly #re: Float64Array[] = [];
  readonly #im: Float64Array[] = [];
  readonly #fft: RealFft;
  readonly size: number;
  readonly steps: number;

  /** size: transform length, power of two, at least the steps of both recordings together. */
  constructor(trace: Trace, size: number) {
    this.size = size;
    this.steps = Math.ceil(trace.frames / COARSE_FRAMES);
    this.#fft = new RealFft(size);
    const bands = bandRises(trace);
    const work = new Float64Array(size);
    for (const band of bands) {
      work.fill(0);
      work.set(band.subarray(0, Math.min(band.length, size)));
      const re = new Float64Array(size / 2 + 1);
      const im = new Float64Array(size / 2 + 1);
      this.#fft.forward(work, re, im);
      this.#re.push(re);
      this.#im.push(im);
    }
  }

  /** The transform size two recordings need so that no lag wraps round. */
  static sizeFor(a: Trace, b: Trace): number {
    const steps = Math.ceil(a.frames / COARSE_FRAMES) + Math.ceil(b.frames / COARSE_FRAMES) + 2;
    let size = 64;
    while (size < steps) size *= 2;
    return size;
  }

  /**
   * The lags at which `other` fits best, best first, at most `count`: times in `other` less times here. Both prints
   * must have one size. `broad` weighs all bands together instead of band by band: for two recordings whose notes
   * differ in pitch.
   */
  search(other: OnsetPrint, count: number, broad: boolean): LagPeak[] {
    if (other.size !== this.size) throw new RangeError(`size is ${other.size}; allowed ${this.size}`);
    const sumRe = new Float64Array(this.size / 2 + 1);
    const sumIm = new Float64Array(this.size / 2 + 1);
    const from = broad ? BANDS : 0;
    const to = broad ? BANDS + 1 : BANDS;
    for (let band = from; band < to; band++) {
      const aRe = this.#re[band]!;
      const aIm = this.#im[band]!;
      const bRe = other.#re[band]!;
      const bIm = other.#im[band]!;
      for (let k = 0; k < sumRe.length; k++) {
        sumRe[k]! += bRe[k]! * aRe[k]! + bIm[k]! * aIm[k]!;
        sumIm[k]! += bIm[k]! * aRe[k]! - bRe[k]! * aIm[k]!;
      }
    }
    const lags = new Float64Array(this.size);
    this.#fft.inverse(sumRe, sumIm, lags);
    return this.#peaks(lags, other.steps, count);
  }

  #peaks(lags: Float64Array, otherSteps: number, count: number): LagPeak[] {
    const size = this.size;
    if (this.steps === 0 || otherSteps === 0) return [];
    const least = -this.steps + 1;
    const values = new Float64Array(this.steps + otherSteps - 1);
    for (let i = 0; i < values.length; i++) values[i] = lags[(i + least + size) % size]!;
    const sizes = values.map((value) => Math.abs(value)).sort();
    const spread = sizes[Math.floor(sizes.length * 0.68)]! || 1;
    const order: number[] = [];
    for (let i = 1; i + 1 < values.length; i++) {
      if (values[i]! > 0 && values[i]! >= values[i - 1]! && values[i]! > values[i + 1]!) order.push(i);
    }
    order.sort((a, b) => values[b]! - values[a]!);
    return order.slice(0, count).map((i) => ({
      lagSec: (i + least) * COARSE_SEC,
      height: values[i]! / spread,
    }));
  }
}

/** Rises of a trace summed into BANDS bands of lines and one of all, a number a coarse step, each without its mean. */
function bandRises(trace: Trace): Float64Array[] {
  const steps = Math.ceil(trace.frames / COARSE_FRAMES);
  const bands: Float64Array[] = [];
  for (let band = 0; band <= BANDS; band++) bands.push(new Float64Array(steps));
  const all = bands[BANDS]!;
  for (let frame = 0; frame < trace.frames; frame++) {
    const step = Math.floor(frame / COARSE_FRAMES);
    for (let i = trace.riseFrom[frame]!; i < trace.riseFrom[frame + 1]!; i++) {
      const band = bands[Math.floor((trace.riseLine[i]! * BANDS) / LINES)]!;
      band[step]! += trace.riseBy[i]!;
      all[step]! += trace.riseBy[i]!;
    }
  }
  for (const band of bands) {
    let sum = 0;
    for (let i = 0; i < steps; i++) {
      // A root, so that one loud chord does not decide alone.
      band[i] = Math.sqrt(band[i]!);
      sum += band[i]!;
    }
    const mean = sum / Math.max(1, steps);
    for (let i = 0; i < steps; i++) band[i]! -= mean;
  }
  return bands;
}
