import { withSession } from './session-work.ts';

/** A step of a session that was taken back, or done again. */
export interface MovedSession {
  /** What it was, in words; null where there was none. */
  readonly done: string | null;
  /** What would be the next to go the same way; null for nothing. */
  readonly next: string | null;
  readonly notes: readonly string[];
}

/** Takes the last step of a session back, or does the last one taken back again. Throws PartsongError as opening does. */
export async function moveSession(session: string, direction: 'undo' | 'redo'): Promise<MovedSession> {
  const { value, notes } = await withSession(session, async ({ desk }) => {
    const labelOf = (): string | null => (direction === 'undo' ? desk.undoLabel : desk.redoLabel);
    const done = labelOf();
    if (direction === 'undo') desk.undo();
    else desk.redo();
    return { done, next: labelOf() };
  });
  return { ...value, notes };
}
