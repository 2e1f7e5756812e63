import type { BrowserWindow, Dialog } from 'electron';

/** Everything is saved all the time; a desk that has not closed after this long does not hold the window, ms. */
const CLOSE_WITHIN_MS = 15_000;

/** What quitting goes by. */
export interface LeavingParts {
  readonly dialog: Pick<Dialog, 'showMessageBox'>;
  readonly window: () => BrowserWindow | undefined;
  readonly isRendering: () => boolean;
  /** Stops all work, saves, lets the session go. */
  readonly close: () => Promise<void>;
  /** Ends the program, now that nothing holds it. */
  readonly end: () => void;
}

/**
 * Leaving the program: asks only while a render is running, closes the desk, then ends. Everything else is saved all the
 * time, so there is nothing to ask.
 */
export class Leaving {
  readonly #parts: LeavingParts;
  #state: 'staying' | 'asking' | 'closing' | 'closed' = 'staying';

  constructor(parts: LeavingParts) {
    this.#parts = parts;
  }

  /** The desk is closed, and the window may go. */
  get isFree(): boolean {
    return this.#state === 'closed';
  }

  /** Someone wants to leave, by whatever way. Settles when they stay after all or everything has ended. */
  async ask(): Promise<void> {
    if (this.#state !== 'staying') return;
    this.#state = 'asking';
    if (this.#parts.isRendering() && !(await this.#mayStop())) {
      this.#state = 'staying';
      return;
    }
    this.#state = 'closing';
    const tooLate = new Promise<void>((resolve) => {
      setTimeout(resolve, CLOSE_WITHIN_MS).unref();
    });
    try {
      await Promise.race([this.#parts.close(), tooLate]);
    } finally {
      this.#state = 'closed';
      this.#parts.end();
    }
  }

  async #mayStop(): Promise<boolean> {
    const question = {
      type: 'question' as const,
      message: 'A render is running.',
      detail: 'If you quit now it stops, and nothing half-made is left. Your session is saved in any case.',
      buttons: ['Let it finish', 'Stop it and quit'],
      defaultId: 0,
      cancelId: 0,
    };
    const window = this.#parts.window();
    const { dialog } = this.#parts;
    const { response } =
      window === undefined ? await dialog.showMessageBox(question) : await dialog.showMessageBox(window, question);
    // The render may have ended while the question stood there; then nothing is stopped by quitting.
    return response === 1;
  }
}
