import type { DeskEvent } from '../../shell/contract/events.ts';
import type { Desk, DeskChange } from '../desk.ts';

/** The page that asked for an edit, and its own number for it: it knows the change already. */
export interface Asker {
  readonly by: string;
  readonly seq: number;
}

/** What screens are told of a change of the session. asker: who asked for it, where somebody did. */
export function changeEvent(desk: Desk, change: DeskChange, asker: Asker | undefined): DeskEvent {
  const { undoLabel, redoLabel, session } = desk;
  const { revision } = change;
  if (change.kind === 'replaced') return { kind: 'replaced', revision, session, undoLabel, redoLabel };
  const asked = change.kind === 'edited' ? asker : undefined;
  const { by, seq } = asked ?? { by: null, seq: 0 };
  return { kind: 'edited', revision, edit: change.edit, by, seq, undoLabel, redoLabel };
}
