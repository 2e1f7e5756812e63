import { symmetricSum } from '../signal/side-sums.ts';

/** Most frames handed over at once. */
export const CHUNK = 4096;

/**
 * Turns a stream into one of about `targetHz`, for measures that need only its low notes.
 *
 * The factor is a whole number, so that the cost is one folded symmetric filter an output sample (windowed sinc,
 * Hamming, four output periods long: some 30 dB down where it would fold below a quarter of the target rate).
 * Time zero is kept: output sample n belongs to input time n * factor / rateHz.
 */
export class SlowCopy {
  /** Whole input frames an output sample. */
  readonly factor: number;
  /** Exact output rate, Hz. */
  readonly rateHz: number;
  readonly #half: number;
  readonly #taps: Float64Array;
  readonly #line: Float64Array;
  #filled: number;
  #next: number;

  /** sourceHz: rate of the stream, 4000 to 400000; targetHz: wanted rate, 1000 to 16000. */
  constructor(sourceHz: number, targetHz: number) {
    this.factor = Math.max(1, Math.round(sourceHz / targetHz));
    this.rateHz = sourceHz / this.factor;
    const half = this.factor === 1 ? 0 : 2 * this.factor;
    this.#half = half;
    this.#taps = new Float64Array(half + 1);
    let sum = 0;
    for (let n = 0; n <= half; n++) {
      const phase = (Math.PI * n) / this.factor;
      const sinc = n === 0 ? 1 : Math.sin(phase) / phase;
      const window = half === 0 ? 1 : 0.54 + 0.46 * Math.cos((Math.PI * n) / (half + 1));
      this.#taps[n] = sinc * window;
      sum += sinc * window * (n === 0 ? 1 : 2);
    }
    for (let n = 0; n <= half; n++) this.#taps[n] = this.#taps[n]! / sum;
    this.#line = new Float64Array(2 * half + this.factor + CHUNK);
    // The line starts with `half` frames of silence before time zero.
    this.#filled = half;
    this.#next = half;
  }

  /** Takes up to CHUNK frames and writes the finished samples to `output` from 0 on; gives how many. */
  add(input: Float32Array, output: Float64Array): number {
    const line = this.#line;
    const filled = this.#filled;
    for (let n = 0; n < input.length; n++) line[filled + n] = input[n]!;
    this.#filled += input.length;
    const taps = this.#taps;
    const half = this.#half;
    const factor = this.factor;
    let at = this.#next;
    const last = this.#filled - half;
    let count = 0;
    while (at < last) {
      output[count++] = symmetricSum(taps, line, at, half);
      at += factor;
    }
    const keepFrom = Math.min(at - half, this.#filled);
    line.copyWithin(0, keepFrom, this.#filled);
    this.#filled -= keepFrom;
    this.#next = at - keepFrom;
    return count;
  }
}
