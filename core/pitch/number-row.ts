/** A row of numbers that grows. Memory: up to twice what is in it. */
export class NumberRow {
  #values: Float64Array = new Float64Array(1024);
  length = 0;

  push(value: number): void {
    if (this.length === this.#values.length) {
      const larger = new Float64Array(2 * this.length);
      larger.set(this.#values);
      this.#values = larger;
    }
    this.#values[this.length++] = value;
  }

  at(index: number): number {
    return this.#values[index]!;
  }

  /** What is in it, as an array of its own. */
  toArray(): Float64Array {
    return this.#values.slice(0, this.length);
  }
}
