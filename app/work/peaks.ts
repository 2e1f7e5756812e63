import { makeExtremes } from '../../core/wave/extremes.ts';

/** Stretches at most: more than a drawn page can show, so that the peaks of a long take are no larger than a short one's. */
const MOST_STRETCHES = 4096;

/** Smallest and largest sample of each of `perSec` stretches a second: what a waveform is drawn from. */
export interface Peaks {
  readonly perSec: number;
  readonly lowest: number[];
  readonly highest: number[];
}

/** Gathers peaks block by block. A take with too many stretches has neighbours joined, and half as many a second. */
export class PeakGatherer {
  #perSec: number;
  readonly #rateHz: number;
  readonly #extremes = makeExtremes();
  readonly #lowest = new Float64Array(MOST_STRETCHES);
  readonly #highest = new Float64Array(MOST_STRETCHES);
  #count = 0;
  #low = 0;
  #high = 0;
  #frame = 0;
  #edge: number;

  constructor(rateHz: number, perSec: number) {
    this.#rateHz = rateHz;
    this.#perSec = perSec;
    this.#edge = Math.round(rateHz / perSec);
  }

  /** Whether all samples so far were finite numbers. */
  get isFinite(): boolean {
    return this.#extremes.isFinite;
  }

  add(samples: Float32Array): void {
    const { longest } = this.#extremes;
    for (let from = 0; from < samples.length; from += longest) {
      this.#add(samples.length <= longest ? samples : samples.subarray(from, from + longest));
    }
  }

  #add(samples: Float32Array): void {
    const extremes = this.#extremes;
    extremes.take(samples);
    let from = 0;
    while (from < samples.length) {
      if (this.#frame === this.#edge) this.#endStretch();
      const to = Math.min(samples.length, from + this.#edge - this.#frame);
      extremes.look(from, to);
      this.#low = Math.min(this.#low, extremes.lowest);
      this.#high = Math.max(this.#high, extremes.highest);
      this.#frame += to - from;
      from = to;
    }
  }

  #endStretch(): void {
    this.#lowest[this.#count] = rounded(this.#low);
    this.#highest[this.#count] = rounded(this.#high);
    this.#low = 0;
    this.#high = 0;
    this.#count++;
    if (this.#count === MOST_STRETCHES) this.#join();
    this.#edge = Math.round(((this.#count + 1) * this.#rateHz) / this.#perSec);
  }

  /** Each two neighbours become one. */
  #join(): void {
    const lowest = this.#lowest;
    const highest = this.#highest;
    this.#count /= 2;
    for (let n = 0; n < this.#count; n++) {
      lowest[n] = Math.min(lowest[2 * n]!, lowest[2 * n + 1]!);
      highest[n] = Math.max(highest[2 * n]!, highest[2 * n + 1]!);
    }
    this.#perSec /= 2;
  }

  result(): Peaks {
    return {
      perSec: this.#perSec,
      lowest: [...this.#lowest.subarray(0, this.#count), rounded(this.#low)],
      highest: [...this.#highest.subarray(0, this.#count), rounded(this.#high)],
    };
  }
}

function rounded(value: number): number {
  return Math.round(value * 10000) / 10000;
}
