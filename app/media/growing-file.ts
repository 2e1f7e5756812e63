import { closeSync, openSync, readSync, rmSync } from 'node:fs';

/**
 * A file that FFmpeg writes and that is read meanwhile, from its beginning on. Where 63 MB of samples went through a pipe, Node's streams cost
 * 0.17 s of processor time, and 0.05 s this way; FFmpeg need not wait for the reader, and where what it wrote is what is wanted it is not
 * written a second time. To be closed when the writer has ended.
 */
export class GrowingFile {
  /** For the writer alone. */
  readonly descriptor: number;
  /** A file of its own to the system: on Windows reading at a place moves, for a moment, the place at which others with the same file write. */
  readonly #reader: number;
  #at = 0;
  #isWhole = false;
  #isOpen = true;
  #look: () => void = () => undefined;

  /**
   * path: made anew, and empty. What lay there goes first: an FFmpeg whose Partsong was killed goes on writing to its end, and must not
   * write into this one.
   */
  constructor(path: string) {
    rmSync(path, { force: true });
    this.descriptor = openSync(path, 'wx');
    this.#reader = openSync(path, 'r');
  }

  /** Whether the writer has ended. */
  get isWhole(): boolean {
    return this.#isWhole;
  }

  /** To be called when there may be more in it; isWhole: no more will come. */
  tell(isWhole: boolean): void {
    this.#isWhole ||= isWhole;
    this.#look();
  }

  /** Settles when `tell` is called next. */
  told(): Promise<void> {
    return new Promise((resolve) => {
      this.#look = resolve;
    });
  }

  /** Fills the target with what comes next, in whole units of so many bytes; gives how many bytes. */
  read(target: Uint8Array, unitBytes: number): number {
    let done = 0;
    while (done < target.length) {
      const got = readSync(this.#reader, target, done, target.length - done, this.#at + done);
      if (got === 0) break;
      done += got;
    }
    const whole = done - (done % unitBytes);
    this.#at += whole;
    return whole;
  }

  close(): void {
    if (!this.#isOpen) return;
    this.#isOpen = false;
    closeSync(this.descriptor);
    closeSync(this.#reader);
  }
}
