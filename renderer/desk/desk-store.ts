export { soundingTake } from '../../core/session/passages.ts';

import { create } from 'zustand';
import type { Bridge } from '../../app/shell/contract/bridge.ts';
import type { DeskView, FaultView, StartView, StepName, TakeFacts } from '../../app/shell/contract/desk-view.ts';
import type { DeskEvent, MenuCommand } from '../../app/shell/contract/events.ts';
import { apply, type Edit } from '../../core/session/edit.ts';
import type { Session } from '../../core/session/schema.ts';
import { faultOf } from '../bridge/bridge-fault.ts';

/** What the page knows of the desk. `view` is null while no session is open. */
export interface DeskState {
  readonly start: StartView | null;
  readonly view: DeskView | null;
  /** Faults not yet put away, newest last. */
  readonly faults: readonly FaultView[];
  /** The desk went away; nothing can be done any more. */
  readonly lost: boolean;
}

export const useDesk = create<DeskState>(() => ({ start: null, view: null, faults: [], lost: false }));

const page = crypto.randomUUID();
let seq = 0;
let bridge: Bridge | undefined;
const menuListeners = new Set<(command: MenuCommand) => void>();

/** The door, for calls and media. */
export function theBridge(): Bridge {
  if (bridge === undefined) throw new Error('the desk is not connected yet');
  return bridge;
}

/** Connects the store with a door; called once. */
export function connectDesk(door: Bridge): void {
  bridge = door;
  door.onEvent(take);
  door.onLost(() => useDesk.setState({ lost: true }));
  door.calls.begin({}).then(
    (start) => useDesk.setState({ start, view: start.desk }),
    (error: unknown) => tell(faultOf(error)),
  );
}

/** Shows a fault until it is put away. */
export function tell(fault: FaultView): void {
  useDesk.setState(({ faults }) => ({ faults: [...faults.filter((one) => one.message !== fault.message), fault] }));
}

export function putAway(fault: FaultView): void {
  useDesk.setState(({ faults }) => ({ faults: faults.filter((one) => one !== fault) }));
}

/**
 * Shows a session that a call opened, unless events have brought it already: they take another way than answers, and may
 * know of newer changes.
 */
export function showSession(opened: DeskView): void {
  const { view } = useDesk.getState();
  if (view !== null && view.folder === opened.folder && view.revision >= opened.revision) return;
  useDesk.setState({ view: opened });
}

/** Listens for what the window's menu asks; returns how to stop. */
export function onMenu(listener: (command: MenuCommand) => void): () => void {
  menuListeners.add(listener);
  return () => menuListeners.delete(listener);
}

/**
 * Changes the session: at once on this page, then on the desk. Edits in a row with one `mergeKey` (a fader on its way)
 * are one step of undo. A refused edit is told and taken back.
 */
export function edit(change: Edit, mergeKey: string | null = null): void {
  const { view } = useDesk.getState();
  if (view === null) return;
  const session = apply(view.session, change);
  // Sent before the page follows, so that what the page then fetches (a moved take's sound) is of the session as it is now.
  const sent = theBridge().calls.edit({ edit: change, mergeKey, by: page, seq: ++seq });
  withSession(session);
  sent.catch((error: unknown) => {
    tell(faultOf(error));
    return reload();
  });
}

export function undo(): void {
  theBridge()
    .calls.undo({})
    .catch((error: unknown) => tell(faultOf(error)));
}

export function redo(): void {
  theBridge()
    .calls.redo({})
    .catch((error: unknown) => tell(faultOf(error)));
}

/** Runs a call of the desk; a fault is told, and undefined given. */
export async function ask<Value>(call: (bridge: Bridge) => Promise<Value>): Promise<Value | undefined> {
  try {
    return await call(theBridge());
  } catch (error) {
    const fault = faultOf(error);
    // What the user stopped is no fault.
    if (fault.code !== 'cancelled') tell(fault);
    return undefined;
  }
}

async function reload(): Promise<void> {
  const start = await theBridge().calls.begin({});
  useDesk.setState({ start, view: start.desk });
}

function withSession(session: Session): void {
  useDesk.setState(({ view }) => (view === null ? {} : { view: { ...view, session } }));
}

function take(event: DeskEvent): void {
  const { view } = useDesk.getState();
  switch (event.kind) {
    case 'opened':
      useDesk.setState({ view: event.view });
      return;
    case 'closed':
      useDesk.setState({ view: null });
      return;
    case 'fault':
      tell(event.fault);
      return;
    case 'menu':
      for (const listener of menuListeners) listener(event.command);
      return;
  }
  if (view === null) return;
  // The answer of a call may have brought these changes already, on its own way.
  if ('revision' in event && event.revision <= view.revision) return;
  switch (event.kind) {
    case 'edited': {
      const { revision, undoLabel, redoLabel } = event;
      // A view that was fetched meanwhile holds this change already.
      if (revision <= view.revision) return;
      const session = event.by === page ? view.session : apply(view.session, event.edit);
      useDesk.setState({ view: { ...view, session, revision, undoLabel, redoLabel } });
      return;
    }
    case 'replaced': {
      const { session, revision, undoLabel, redoLabel } = event;
      if (revision <= view.revision) return;
      useDesk.setState({ view: { ...view, session, revision, undoLabel, redoLabel } });
      return;
    }
    case 'take': {
      const { [event.takeId]: _, ...others } = view.takes;
      const takes = event.facts === null ? others : { ...view.takes, [event.takeId]: event.facts };
      useDesk.setState({ view: { ...view, takes } });
      return;
    }
    case 'parts':
      useDesk.setState({ view: { ...view, ...event.parts } });
  }
}

/** The open session's view; throws where none is open (use it below the frame's check only). */
export function useView(): DeskView {
  const view = useDesk((state) => state.view);
  if (view === null) throw new Error('no session is open');
  return view;
}

/** What is known of a take; undefined before the desk has told. */
export function useTakeFacts(takeId: string): TakeFacts | undefined {
  return useDesk((state) => state.view?.takes[takeId]);
}

/** Steps in their order, with their names on the screen. */
export const stepsInOrder: readonly { readonly name: StepName; readonly label: string }[] = [
  { name: 'guide', label: 'Guide' },
  { name: 'soundCheck', label: 'Sound check' },
  { name: 'takes', label: 'Takes' },
  { name: 'clean', label: 'Clean' },
  { name: 'lineUp', label: 'Line up' },
  { name: 'intonation', label: 'Intonation' },
  { name: 'blend', label: 'Blend' },
  { name: 'picture', label: 'Picture' },
  { name: 'render', label: 'Render' },
];
