import { CancelledError } from '../../../core/signal/fault.ts';
import type { FaultView } from '../../shell/contract/desk-view.ts';
import { workFault } from '../work-fault.ts';

/** Puts faults into words, and tells each of those that the work meets again and again once. */
export class FaultTeller {
  readonly #inWords: (error: unknown) => FaultView;
  readonly #tell: (fault: FaultView) => void;
  readonly #folder: string;
  readonly #words = new WeakMap<object, FaultView>();
  readonly #told = new Set<string>();

  /** folder: of the session, where system errors are its target's. */
  constructor(folder: string, inWords: (error: unknown) => FaultView, tell: (fault: FaultView) => void) {
    this.#folder = folder;
    this.#inWords = inWords;
    this.#tell = tell;
  }

  /** A fault as people read it; the same object gives the same words. */
  readonly inWords = (error: unknown): FaultView => {
    const known = typeof error === 'object' && error !== null ? this.#words.get(error) : undefined;
    const view = known ?? this.#inWords(workFault(error, this.#folder));
    if (typeof error === 'object' && error !== null) this.#words.set(error, view);
    return view;
  };

  /** Tells a fault; what the user stopped is none. */
  tell(fault: unknown): void {
    if (fault !== undefined && !(fault instanceof CancelledError)) this.#tell(this.inWords(fault));
  }

  /** Tells a fault that was not told before. */
  note(fault: unknown): void {
    if (fault === null || fault === undefined || fault instanceof CancelledError) return;
    const view = this.inWords(fault);
    if (this.#told.has(view.message)) return;
    this.#told.add(view.message);
    this.#tell(view);
  }
}
