/** A last look so long after the time is up, ms: what came meanwhile, while the desk was busy, is heard first. */
const LAST_LOOK_MS = 250;

/**
 * Ends the desk when its last page has been gone for a while, long enough for a reload. Before the first page came it
 * waits without limit, and while `mustStay` says so it stays.
 */
export class PageWatch {
  readonly #lingerMs: number;
  readonly #mustStay: () => boolean;
  readonly #onGone: () => void;
  #timer: NodeJS.Timeout | undefined;
  #lastMs: number;

  constructor(lingerMs: number, mustStay: () => boolean, onGone: () => void) {
    this.#lingerMs = lingerMs;
    this.#lastMs = lingerMs;
    this.#mustStay = mustStay;
    this.#onGone = onGone;
  }

  /** pages: how many there are now. Called whenever that changes. lingerMs: how long to wait for the next, this time. */
  set(pages: number, lingerMs = this.#lingerMs): void {
    this.#lastMs = lingerMs;
    clearTimeout(this.#timer);
    this.#timer = pages > 0 ? undefined : setTimeout(() => this.#look(), lingerMs);
  }

  /** Something was asked for: a page may be on its way that does not listen yet. */
  touch(): void {
    if (this.#timer !== undefined) this.set(0, this.#lastMs);
  }

  stop(): void {
    clearTimeout(this.#timer);
    this.#timer = undefined;
  }

  /** The time is up. Timers come before requests where both have waited for a busy desk: so not at once. */
  #look(): void {
    if (this.#mustStay()) this.#timer = setTimeout(() => this.#look(), this.#lastMs);
    else this.#timer = setTimeout(this.#onGone, Math.min(LAST_LOOK_MS, this.#lastMs));
  }
}
