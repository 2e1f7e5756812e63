/** Keeps parts of waveforms up to a number of bytes; those not used for longest go first. */
export class PartCache {
  private readonly parts = new Map<string, Int16Array>();
  private bytes = 0;
  private readonly mostBytes: number;

  constructor(mostBytes: number) {
    this.mostBytes = mostBytes;
  }

  /** Bytes held now. */
  get heldBytes(): number {
    return this.bytes;
  }

  has(key: string): boolean {
    return this.parts.has(key);
  }

  get(key: string): Int16Array | undefined {
    const part = this.parts.get(key);
    if (part === undefined) return undefined;
    // A Map keeps the order of insertion: what is used goes to its end.
    this.parts.delete(key);
    this.parts.set(key, part);
    return part;
  }

  set(key: string, part: Int16Array): void {
    this.drop(key);
    this.parts.set(key, part);
    this.bytes += part.byteLength;
    for (const [oldest] of this.parts) {
      if (this.bytes <= this.mostBytes || oldest === key) break;
      this.drop(oldest);
    }
  }

  /** Forgets all parts whose key begins so. */
  forget(prefix: string): void {
    for (const key of [...this.parts.keys()]) if (key.startsWith(prefix)) this.drop(key);
  }

  private drop(key: string): void {
    const part = this.parts.get(key);
    if (part === undefined) return;
    this.parts.delete(key);
    this.bytes -= part.byteLength;
  }
}
