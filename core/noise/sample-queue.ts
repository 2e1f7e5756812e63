/** First in, first out, of samples that lie in one piece. Grows to what is needed at once, then allocates nothing. */
export class SampleQueue {
  #samples: Float32Array;
  #from = 0;
  #to = 0;

  constructor(capacity: number) {
    this.#samples = new Float32Array(capacity);
  }

  /** Samples in the queue. */
  get length(): number {
    return this.#to - this.#from;
  }

  push(samples: Float32Array, offset: number, count: number): void {
    if (this.#to + count > this.#samples.length) this.#makeRoom(count);
    this.#samples.set(
      offset === 0 && count === samples.length ? samples : samples.subarray(offset, offset + count),
      this.#to,
    );
    this.#to += count;
  }

  /** Sample n from the front, 0 <= n < length. */
  at(n: number): number {
    return this.#samples[this.#from + n]!;
  }

  /** Takes the first target.length samples out, into `target`. */
  shift(target: Float32Array): void {
    if (target.length > this.length) throw new RangeError(`asked for ${target.length}; allowed up to ${this.length}`);
    target.set(this.#samples.subarray(this.#from, this.#from + target.length));
    this.#from += target.length;
  }

  clear(): void {
    this.#from = 0;
    this.#to = 0;
  }

  #makeRoom(count: number): void {
    const length = this.length;
    const held = this.#samples.subarray(this.#from, this.#to);
    if (2 * (length + count) > this.#samples.length) {
      const larger = new Float32Array(2 * (length + count));
      larger.set(held);
      this.#samples = larger;
    } else {
      this.#samples.copyWithin(0, this.#from, this.#to);
    }
    this.#from = 0;
    this.#to = length;
  }
}
