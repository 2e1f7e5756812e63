import { create } from 'zustand';

/** Takes that came in together and whose voices were told by their names, until that is settled. */
interface Arrival {
  /** The session's. */
  readonly folder: string;
  readonly takeIds: readonly string[];
}

export const useArrival = create<Arrival>(() => ({ folder: '', takeIds: [] }));
