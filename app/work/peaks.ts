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
  #lowest: number[] = [];
  #highest: number[] = [];
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
    this.#lowest.push(rounded(this.#low));
    this.#highest.push(rounded(this.#high));
    this.#low = 0;
    this.#high = 0;
    if (this.#highest.length === MOST_STRETCHES) {
      this.#lowest = joined(this.#lowest, Math.min);
      this.#highest = joined(this.#highest, Math.max);
      this.#perSec /= 2;
    }
    this.#edge = Math.round(((this.#highest.length + 1) * this.#rateHz) / this.#perSec);
  }

  result(): Peaks {
    return {
      perSec: this.#perSec,
      lowest: [...this.#lowest, rounded(this.#low)],
      highest: [...this.#highest, rounded(this.#high)],
    };
  }
}

/** Each two neighbours as one. */
function joined(values: readonly number[], choose: (a: number, b: number) => number): number[] {
  return Array.from({ length: values.length / 2 }, (_, n) => choose(values[2 * n]!, values[2 * n + 1]!));
}

function rounded(value: number): number {
  return Math.round(value * 10000) / 10000;
}
