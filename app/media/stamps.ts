/** What FFmpeg says of a run of decoded frames. */
export interface Stamp {
  /** Presentation time of the first frame, in frames; absent where the container has none. */
  readonly frame: number | undefined;
  readonly frames: number;
  readonly channels: number;
  readonly rateHz: number;
}

const SHOWN = / n:\s*\d+ pts:\s*(NOPTS|-?\d+) .*?channels:\s*(\d+) .*?rate:\s*(\d+) nb_samples:\s*(\d+)/;

/**
 * Collects the stamps that FFmpeg's `ashowinfo` filter writes among its messages (words of the builds of 2018 to 8), in
 * order, for a reader that waits for them.
 */
export class StampReader {
  readonly #queue: Stamp[] = [];
  #head = 0;
  #closed = false;
  #wake: (() => void) | undefined;

  /** Takes one line of messages; true when it was the filter's. */
  take(line: string): boolean {
    if (!line.includes('ashowinfo')) return false;
    const shown = SHOWN.exec(line);
    if (shown !== null) {
      this.#queue.push({
        frame: shown[1] === 'NOPTS' ? undefined : Number(shown[1]),
        channels: Number(shown[2]),
        rateHz: Number(shown[3]),
        frames: Number(shown[4]),
      });
      this.#wake?.();
    }
    return true;
  }

  /** No more lines will come. */
  close(): void {
    this.#closed = true;
    this.#wake?.();
  }

  /** The next stamp; undefined when there is none left and none will come. */
  async next(): Promise<Stamp | undefined> {
    while (this.#head === this.#queue.length && !this.#closed) {
      await new Promise<void>((resolve) => {
        this.#wake = resolve;
      });
    }
    const stamp = this.#queue[this.#head++];
    if (this.#head > 256) {
      this.#queue.splice(0, this.#head);
      this.#head = 0;
    }
    return stamp;
  }
}
