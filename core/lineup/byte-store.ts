/** Bytes that are appended, and read again from anywhere: in memory, or in a file where they are many. */
export interface ByteStore {
  append(bytes: Uint8Array): void;
  /** Fills `target` from byte `from` on; asks only for what was appended. */
  read(from: number, target: Uint8Array): void;
}

/** A ByteStore in memory, which grows by doubling. */
export class MemoryStore implements ByteStore {
  #bytes = new Uint8Array(65536);
  #length = 0;

  append(bytes: Uint8Array): void {
    if (this.#length + bytes.length > this.#bytes.length) {
      const larger = new Uint8Array(2 * (this.#length + bytes.length));
      larger.set(this.#bytes.subarray(0, this.#length));
      this.#bytes = larger;
    }
    this.#bytes.set(bytes, this.#length);
    this.#length += bytes.length;
  }

  read(from: number, target: Uint8Array): void {
    target.set(this.#bytes.subarray(from, from + target.length));
  }
}
