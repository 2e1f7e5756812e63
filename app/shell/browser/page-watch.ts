/**
 * Ends the desk when its last page has been gone for a while, long enough for a reload. Before the first page came it
 * waits without limit, and while `mustStay` says so it stays.
 */
export class PageWatch {
  readonly #lingerMs: number;
  readonly #mustStay: () => boolean;
  readonly #onGone: () => void;
  #timer: NodeJS.Timeout | undefined;

  constructor(lingerMs: number, mustStay: () => boolean, onGone: () => void) {
    this.#lingerMs = lingerMs;
    this.#mustStay = mustStay;
    this.#onGone = onGone;
  }

  /** pages: how many there are now. Called whenever that changes. */
  set(pages: number): void {
    clearTimeout(this.#timer);
    this.#timer = pages > 0 ? undefined : setTimeout(() => this.#look(), this.#lingerMs);
  }

  /** Something was asked for: a page may be on its way that does not listen yet. */
  touch(): void {
    this.#timer?.refresh();
  }

  stop(): void {
    clearTimeout(this.#timer);
  }

  #look(): void {
    if (this.#mustStay()) this.#timer = setTimeout(() => this.#look(), this.#lingerMs);
    else this.#onGone();
  }
}
