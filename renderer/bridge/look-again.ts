import type { Presence } from '../../app/shell/contract/bridge.ts';

/** Pauses before the first looks, s: soon after a short break, then seldom. */
const PAUSES_SEC: readonly number[] = [1, 2, 4, 8, 15];
/** The pause before every further look, s. */
const LATER_PAUSE_SEC = 30;
/** So many looks are made of a page that nobody sees, two minutes; then it rests until somebody does. */
const LOOKS_UNSEEN = 8;

/** 'waiting': the next look is at `nextAtMs` (of Date.now); 'resting': no look until somebody sees the page; 'stranger': a desk is there that does not know this page. */
export type LookState =
  | { readonly kind: 'waiting'; readonly looks: number; readonly nextAtMs: number }
  | { readonly kind: 'looking' | 'resting' | 'stranger' | 'there'; readonly looks: number };

export interface LookAgainOptions {
  /** Whether the desk is there. */
  readonly look: () => Promise<Presence>;
  /** Whether somebody can see the page. */
  readonly isSeen: () => boolean;
  /** Called once, when it is there again. */
  readonly onThere: () => void;
  readonly onState: (state: LookState) => void;
}

/** Looks for a desk that went away, by itself, with pauses that grow to half a minute, for as long as the page is seen. Stopped by `stop`. */
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

  /** Looks at once: somebody is at the page again, the computer is on a network again, or it was asked for. */
  now(): void {
    clearTimeout(this.#timer);
    if (!this.#isOver && !this.#isLooking) void this.#look();
  }

  stop(): void {
    this.#isOver = true;
    clearTimeout(this.#timer);
  }

  #wait(): void {
    if (this.#mayRest()) {
      this.#rest();
      return;
    }
    const pauseMs = 1000 * (PAUSES_SEC[this.#looks] ?? LATER_PAUSE_SEC);
    this.#options.onState({ kind: 'waiting', looks: this.#looks, nextAtMs: Date.now() + pauseMs });
    this.#timer = setTimeout(() => void (this.#mayRest() ? this.#rest() : this.#look()), pauseMs);
  }

  #mayRest(): boolean {
    return this.#looks >= LOOKS_UNSEEN && !this.#options.isSeen();
  }

  #rest(): void {
    this.#options.onState({ kind: 'resting', looks: this.#looks });
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
