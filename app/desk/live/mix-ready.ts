import { CancelledError } from '../../../core/signal/fault.ts';
import type { Ledger } from './ledger.ts';
import { notReady, workStopped } from './live-faults.ts';
import type { MixState } from './mix-work.ts';

/** What waiting for the mix needs of the open session. */
export interface MixAtWork {
  readonly ledger: Ledger;
  mix(): MixState | undefined;
  /** What is about to be looked at anew says nothing of the session as it is now. */
  isStale(): boolean;
  isClosed(): boolean;
}

/** Waits for the mix of an open session until nothing it is made from is waited for any more. */
export class MixReady {
  readonly #of: MixAtWork;
  readonly #waiting = new Set<() => void>();

  constructor(of: MixAtWork) {
    this.#of = of;
  }

  /** Lets whoever waits look again. */
  wake(): void {
    for (const wake of this.#waiting) wake();
  }

  /** The mix when nothing is waited for any more. Throws its fault, CancelledError, or PartsongError where work was stopped. */
  async settled(signal: AbortSignal): Promise<MixState> {
    const { ledger } = this.#of;
    for (;;) {
      if (signal.aborted || this.#of.isClosed()) throw new CancelledError();
      const mix = this.#of.mix();
      if (!this.#of.isStale()) {
        if (mix?.fault != null) throw mix.fault;
        if (mix?.settled) return mix;
        const isWorking = ledger.isBusy('look', 'takeIn', 'lineUp', 'clean', 'mend', 'measure', 'master');
        if (!isWorking) throw ledger.hasStopped ? workStopped() : notReady();
      }
      await this.#moved(signal);
    }
  }

  #moved(signal: AbortSignal): Promise<void> {
    return new Promise<void>((done) => {
      const wake = (): void => {
        this.#waiting.delete(wake);
        signal.removeEventListener('abort', wake);
        done();
      };
      this.#waiting.add(wake);
      signal.addEventListener('abort', wake);
    });
  }
}
