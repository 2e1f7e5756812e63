/** What FFmpeg says of a run of decoded frames. */
export interface Stamp {
  /** Presentation time of the first frame, in frames; absent where the container has none. */
  readonly frame: number | undefined;
  readonly frames: number;
  readonly channels: number;
  readonly rateHz: number;
}

const PATIENCE_MS = 10_000;
const SHOWN = /n:\s*\d+ pts:\s*(NOPTS|-?\d+) .*?channels:\s*(\d+) .*?rate:\s*(\d+) nb_samples:\s*(\d+)/;

/**
 * Collects the stamps that FFmpeg's `ashowinfo` filter writes among its messages (words of the builds of 2018 to 8), in
 * order, for a reader that waits for them. Decoders talk in between, sometimes without ending their line.
 */
export class StampReader {
  readonly #queue: Stamp[] = [];
  #head = 0;
  #closed = false;
  #wake: (() => void) | undefined;

  /** Takes one line of messages; true when it was the filter's. */
  take(line: string): boolean {
    const shown = SHOWN.exec(line);
    if (shown === null) return line.includes('ashowinfo');
    this.#queue.push({
      frame: shown[1] === 'NOPTS' ? undefined : Number(shown[1]),
      channels: Number(shown[2]),
      rateHz: Number(shown[3]),
      frames: Number(shown[4]),
    });
    this.#wake?.();
    return true;
  }

  /** No more lines will come. */
  close(): void {
    this.#closed = true;
    this.#wake?.();
  }

  /**
   * The next stamp; undefined when there is none left and none will come. FFmpeg writes a stamp before its samples, so one
   * that is waited for longer than `patienceMs` with samples at hand was lost.
   */
  async next(patienceMs = PATIENCE_MS): Promise<Stamp | undefined> {
    const wait = this.#head === this.#queue.length && !this.#closed;
    if (wait) {
      await new Promise<void>((resolve) => {
        const lost = setTimeout(resolve, patienceMs);
        this.#wake = () => {
          clearTimeout(lost);
          resolve();
        };
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
