/** Tells once that the desk went away: at once when it says so, or when a broken connection is not back in time. */
export class LostWatch {
  readonly #waitMs: number;
  readonly #listeners = new Set<() => void>();
  #timer: ReturnType<typeof setTimeout> | undefined;
  #isLost = false;

  constructor(waitMs: number) {
    this.#waitMs = waitMs;
  }

  onLost(listener: () => void): () => void {
    this.#listeners.add(listener);
    if (this.#isLost) listener();
    return () => this.#listeners.delete(listener);
  }

  get isLost(): boolean {
    return this.#isLost;
  }

  /** The connection is there, or there again. */
  there(): void {
    clearTimeout(this.#timer);
    this.#timer = undefined;
  }

  /** The connection broke off and may come back. */
  broken(): void {
    this.#timer ??= setTimeout(() => this.gone(), this.#waitMs);
  }

  gone(): void {
    clearTimeout(this.#timer);
    if (this.#isLost) return;
    this.#isLost = true;
    for (const listener of this.#listeners) listener();
  }
}
