import { create } from 'zustand';
import type { Bridge } from '../../app/shell/contract/bridge.ts';
import type { DeskView } from '../../app/shell/contract/desk-view.ts';
import { ask, showSession } from '../desk/desk-store.ts';

/** What is being opened, in words; null while nothing is. */
export const useOpening = create<{ readonly words: string | null }>(() => ({ words: null }));

/** Runs a call that opens a session, shows the session, and says meanwhile that it is on its way; whether it is open now. */
export async function openBy(words: string, call: (bridge: Bridge) => Promise<DeskView>): Promise<boolean> {
  if (useOpening.getState().words !== null) return false;
  useOpening.setState({ words });
  try {
    const view = await ask(call);
    if (view !== undefined) showSession(view);
    return view !== undefined;
  } finally {
    useOpening.setState({ words: null });
  }
}
