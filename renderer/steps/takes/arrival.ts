import { create } from 'zustand';

/** Takes that came in together and whose voices were told by their names, until that is settled; or all, when that was asked for. */
interface Arrival {
  /** The session's. */
  readonly folder: string;
  readonly takeIds: readonly string[];
  /** The user wants to give clips to voices anew; they did not just come in. */
  readonly isAsked: boolean;
}

export const useArrival = create<Arrival>(() => ({ folder: '', takeIds: [], isAsked: false }));
