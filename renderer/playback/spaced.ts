/**
 * Acts on a value at once, and on those that follow in quick succession no more often than every `spaceMs`, each time on the
 * last one only.
 */
export class Spaced<Value> {
  readonly #spaceMs: number;
  readonly #act: (value: Value) => void;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #waiting: { readonly value: Value } | undefined;

  constructor(spaceMs: number, act: (value: Value) => void) {
    this.#spaceMs = spaceMs;
    this.#act = act;
  }

  /** The value that has not been acted on yet. */
  get waiting(): Value | undefined {
    return this.#waiting?.value;
  }

  ask(value: Value): void {
    this.#waiting = { value };
    if (this.#timer === undefined) this.#go();
  }

  /** Forgets what waits. */
  drop(): void {
    this.#waiting = undefined;
  }

  #go(): void {
    const wanted = this.#waiting;
    this.#waiting = undefined;
    this.#timer = undefined;
    if (wanted === undefined) return;
    this.#timer = setTimeout(() => this.#go(), this.#spaceMs);
    this.#act(wanted.value);
  }
}
