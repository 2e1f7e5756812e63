import { apply, type Edit } from './edit.ts';
import type { Session } from './schema.ts';

/**
 * A session and the way it came about. Immutable; steps share what they did not change, so that a long history
 * costs little. Undo and redo are moves along the steps, not inverse code.
 */
export interface History {
  readonly present: Session;
  readonly past: readonly Step[];
  readonly future: readonly Step[];
}

export interface Step {
  readonly edit: Edit;
  /** Edits in a row with one key (a fader on its way) are one step. */
  readonly mergeKey?: string | undefined;
  /** The session before the edit (in `past`) or after it (in `future`). */
  readonly session: Session;
}

/** A history that begins with a session as it is. */
export function beginHistory(session: Session): History {
  return { present: session, past: [], future: [] };
}

/**
 * Applies an edit; what had been undone before it is forgotten. An edit that changes nothing is no step. With the
 * `mergeKey` of the step before (a fader on its way) it becomes one step with it, unless it is to stay `apart`.
 */
export function doEdit(history: History, edit: Edit, mergeKey?: string, apart = false): History {
  const present = apply(history.present, edit);
  if (present === history.present) return history;
  const last = history.past.at(-1);
  if (
    !apart &&
    last !== undefined &&
    mergeKey !== undefined &&
    last.mergeKey === mergeKey &&
    history.future.length === 0
  ) {
    return { present, past: [...history.past.slice(0, -1), { edit, mergeKey, session: last.session }], future: [] };
  }
  return { present, past: [...history.past, { edit, mergeKey, session: history.present }], future: [] };
}

/** Changes the session without a step: what can be undone and done again stays as it is. */
export function amend(history: History, edit: Edit): History {
  const present = apply(history.present, edit);
  return present === history.present ? history : { ...history, present };
}

/** One step back; the same history when there is none. */
export function undo(history: History): History {
  const step = history.past.at(-1);
  if (step === undefined) return history;
  return {
    present: step.session,
    past: history.past.slice(0, -1),
    future: [...history.future, { ...step, session: history.present }],
  };
}

/** One step forward again; the same history when there is none. */
export function redo(history: History): History {
  const step = history.future.at(-1);
  if (step === undefined) return history;
  return {
    present: step.session,
    past: [...history.past, { ...step, session: history.present }],
    future: history.future.slice(0, -1),
  };
}
