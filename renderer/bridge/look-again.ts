import type { Presence } from '../../app/shell/contract/bridge.ts';

/** Pauses before each look, s: soon after a short break, then seldom; four minutes in all. */
const PAUSES_SEC: readonly number[] = [1, 2, 4, 8, 15, 30, 60, 120];

/** 'waiting': the next look is at `nextAtMs` (of Date.now); 'stranger': a desk is there that does not know this page; 'ended': no more looks. */
export type LookState =
  | { readonly kind: 'waiting'; readonly looks: number; readonly nextAtMs: number }
  | { readonly kind: 'looking' | 'stranger' | 'ended' | 'there'; readonly looks: number };

export interface LookAgainOptions {
  /** Whether the desk is there. */
  readonly look: () => Promise<Presence>;
  /** Called once, when it is there again. */
  readonly onThere: () => void;
  readonly onState: (state: LookState) => void;
}

/** Looks for a desk that went away, by itself, a few times, with growing pauses. Stopped by `stop`. */
export class LookAgain {
  readonly #options: LookAgainOptions;
  #looks = 0;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #isOver = false;
  #isLooking = false;

  constructor(options: LookAgainOptions) {
    this.#options = options;
    this.#wait();
  }

  /** Looks at once: somebody is at the page again, or asked for it. */
  now(): void {
    clearTimeout(this.#timer);
    if (!this.#isOver && !this.#isLooking) void this.#look();
  }

  stop(): void {
    this.#isOver = true;
    clearTimeout(this.#timer);
  }

  #wait(): void {
    const pauseSec = PAUSES_SEC[this.#looks];
    if (pauseSec === undefined) {
      this.#isOver = true;
      this.#options.onState({ kind: 'ended', looks: this.#looks });
      return;
    }
    this.#options.onState({ kind: 'waiting', looks: this.#looks, nextAtMs: Date.now() + 1000 * pauseSec });
    this.#timer = setTimeout(() => void this.#look(), 1000 * pauseSec);
  }

  async #look(): Promise<void> {
    this.#isLooking = true;
    this.#looks++;
    this.#options.onState({ kind: 'looking', looks: this.#looks });
    const found = await this.#options.look();
    this.#isLooking = false;
    if (this.#isOver) return;
    if (found === 'gone') return this.#wait();
    this.#isOver = true;
    this.#options.onState({ kind: found, looks: this.#looks });
    if (found === 'there') this.#options.onThere();
  }
}
