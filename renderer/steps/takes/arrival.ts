import { create } from 'zustand';
import type { ByHand, GroupRule } from './regroup.ts';

/** Takes that came in together and whose voices were told by their names, until that is settled; or all, when that was asked for. */
interface Arrival {
  /** The session's. */
  readonly folder: string;
  readonly takeIds: readonly string[];
  /** The user wants to give clips to voices anew; they did not just come in. */
  readonly isAsked: boolean;
  /** What was chosen so far, kept while another bench is looked at. `each` as it was typed; null: not chosen yet. */
  readonly rule: GroupRule;
  readonly each: string | null;
  readonly byHand: ByHand;
}

const NOTHING: Arrival = { folder: '', takeIds: [], isAsked: false, rule: 'name', each: null, byHand: {} };

export const useArrival = create<Arrival>(() => NOTHING);

/** Asks which of these takes are of which voice; what was chosen before is forgotten. */
export function askAboutTakes(folder: string, takeIds: readonly string[], isAsked: boolean): void {
  useArrival.setState({ ...NOTHING, folder, takeIds, isAsked });
}

export function endArrival(): void {
  useArrival.setState(NOTHING);
}
