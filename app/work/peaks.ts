/** Smallest and largest sample of each of `perSec` stretches a second: what a waveform is drawn from. */
export interface Peaks {
  readonly perSec: number;
  readonly lowest: number[];
  readonly highest: number[];
}

/** Gathers peaks block by block. */
export class PeakGatherer {
  readonly #perSec: number;
  readonly #rateHz: number;
  readonly #lowest: number[] = [];
  readonly #highest: number[] = [];
  #low = 0;
  #high = 0;
  #frame = 0;
  #edge: number;

  constructor(rateHz: number, perSec: number) {
    this.#rateHz = rateHz;
    this.#perSec = perSec;
    this.#edge = Math.round(rateHz / perSec);
  }

  add(samples: Float32Array): void {
    let low = this.#low;
    let high = this.#high;
    for (let n = 0; n < samples.length; n++) {
      if (this.#frame === this.#edge) {
        this.#lowest.push(rounded(low));
        this.#highest.push(rounded(high));
        low = 0;
        high = 0;
        this.#edge = Math.round(((this.#highest.length + 1) * this.#rateHz) / this.#perSec);
      }
      const value = samples[n]!;
      if (value < low) low = value;
      if (value > high) high = value;
      this.#frame++;
    }
    this.#low = low;
    this.#high = high;
  }

  result(): Peaks {
    return {
      perSec: this.#perSec,
      lowest: [...this.#lowest, rounded(this.#low)],
      highest: [...this.#highest, rounded(this.#high)],
    };
  }
}

function rounded(value: number): number {
  return Math.round(value * 10000) / 10000;
}
