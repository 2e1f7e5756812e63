import { create } from 'zustand';
import type { Bridge } from '../../app/shell/contract/bridge.ts';
import type { DeskView } from '../../app/shell/contract/desk-view.ts';
import { ask, showSession } from '../desk/desk-store.ts';

/** What is being opened, in words; null while nothing is. */
export const useOpening = create<{ readonly words: string | null }>(() => ({ words: null }));

let underWay: Promise<unknown> = Promise.resolve();

export function isOpening(): boolean {
  return useOpening.getState().words !== null;
}

/** Settles when what is being opened is there, or could not be opened; another may be on its way by then. */
export async function openingEnded(): Promise<void> {
  await underWay;
}

/** Runs a call that opens a session, shows the session, and says meanwhile that it is on its way; whether it is open now. */
export async function openBy(words: string, call: (bridge: Bridge) => Promise<DeskView>): Promise<boolean> {
  if (isOpening()) return false;
  useOpening.setState({ words });
  const opening = show(call).finally(() => useOpening.setState({ words: null }));
  underWay = opening;
  return opening;
}

async function show(call: (bridge: Bridge) => Promise<DeskView>): Promise<boolean> {
  const view = await ask(call);
  if (view !== undefined) showSession(view);
  return view !== undefined;
}
