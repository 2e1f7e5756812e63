/**
 * Turns a stream into one of about `targetHz`, for measures that need only its low notes.
 *
 * The factor is a whole number, so that the cost is one folded symmetric filter an output sample (windowed sinc,
 * Hamming, six output periods long; measured 42 dB down where it would fold below a third of the target rate).
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
    const half = this.factor === 1 ? 0 : 3 * this.factor;
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
    this.#line = new Float64Array(2 * half + 4096);
    // The line starts with `half` frames of silence before time zero.
    this.#filled = half;
    this.#next = half;
  }

  /** Takes frames and hands each finished output sample to `give`, in order. */
  add(input: Float32Array, give: (sample: number) => void): void {
    const line = this.#line;
    let from = 0;
    while (from < input.length) {
      const count = Math.min(line.length - this.#filled, input.length - from);
      for (let i = 0; i < count; i++) line[this.#filled + i] = input[from + i]!;
      this.#filled += count;
      from += count;
      this.#run(give);
    }
  }

  #run(give: (sample: number) => void): void {
    const line = this.#line;
    const taps = this.#taps;
    const half = this.#half;
    let at = this.#next;
    const last = this.#filled - half;
    while (at < last) {
      let sum = taps[0]! * line[at]!;
      for (let n = 1; n <= half; n++) sum += taps[n]! * (line[at - n]! + line[at + n]!);
      give(sum);
      at += this.factor;
    }
    const keepFrom = Math.min(at - half, this.#filled);
    if (keepFrom > 0) {
      line.copyWithin(0, keepFrom, this.#filled);
      this.#filled -= keepFrom;
      at -= keepFrom;
    }
    this.#next = at;
  }
}
