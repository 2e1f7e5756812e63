/** A row of numbers that grows. Memory: up to twice what is in it. */
export class NumberRow {
  #values: Float64Array = new Float64Array(1024);
  length = 0;

  push(value: number): void {
    if (this.length === this.#values.length) this.#grow(this.length + 1);
    this.#values[this.length++] = value;
  }

  /** Adds the first `count` numbers of a row. */
  append(values: Float64Array, count: number): void {
    if (this.length + count > this.#values.length) this.#grow(this.length + count);
    this.#values.set(values.subarray(0, count), this.length);
    this.length += count;
  }

  #grow(least: number): void {
    const larger = new Float64Array(Math.max(least, 2 * this.#values.length));
    larger.set(this.#values);
    this.#values = larger;
  }

  at(index: number): number {
    return this.#values[index]!;
  }

  /** What is in it, as an array of its own. */
  toArray(): Float64Array {
    return this.#values.slice(0, this.length);
  }
}
