import { clockText } from '../../core/signal/time.ts';

const BAR_CELLS = 24;
/** No time left is shown before this long, s: the first seconds mislead. */
const ESTIMATE_AFTER_SEC = 2;

/**
 * Tells how far long work is: on a terminal one line with a bar and the time left, redrawn in place; elsewhere one
 * quiet line a step. It writes to standard error, so that standard output stays clean for results.
 */
export class Progress {
  readonly #stream: NodeJS.WriteStream;
  readonly #live: boolean;
  readonly #quiet: boolean;
  #step = '';
  #begun = 0;
  #drawnAt = 0;

  constructor(options: { quiet?: boolean; stream?: NodeJS.WriteStream } = {}) {
    this.#stream = options.stream ?? process.stderr;
    this.#quiet = options.quiet ?? false;
    this.#live = this.#stream.isTTY === true && !this.#quiet;
  }

  /** Begins a step; its name is a plain phrase ("Cleaning 4 takes"). Returns what to call with fractions 0 to 1, and with words
   * that tell more than a share and the time left. */
  begin(step: string): (fraction: number, words?: string) => void {
    this.end();
    this.#step = step;
    this.#begun = Date.now();
    this.#drawnAt = 0;
    if (!this.#live && !this.#quiet) this.#stream.write(`${step} ...\n`);
    this.#draw(0);
    return (fraction, words) => this.#draw(fraction, words);
  }

  /** Ends the step under way, if there is one, and clears its line. */
  end(): void {
    if (this.#step === '') return;
    const took = (Date.now() - this.#begun) / 1000;
    if (this.#live) this.#stream.write(`\r\u001b[K${this.#step}: ${took.toFixed(1)} s\n`);
    this.#step = '';
  }

  #draw(fraction: number, words?: string): void {
    const now = Date.now();
    if (!this.#live || now - this.#drawnAt < 80) return;
    this.#drawnAt = now;
    const part = Math.min(1, Math.max(0, fraction));
    const cells = Math.round(part * BAR_CELLS);
    const elapsed = (now - this.#begun) / 1000;
    const left =
      part > 0.02 && elapsed > ESTIMATE_AFTER_SEC ? `, ${clockText((elapsed / part) * (1 - part))} left` : '';
    const bar = '━'.repeat(cells) + '┄'.repeat(BAR_CELLS - cells);
    this.#stream.write(`\r\u001b[K${this.#step} ${bar} ${words ?? `${Math.round(part * 100)} %${left}`}`);
  }
}
