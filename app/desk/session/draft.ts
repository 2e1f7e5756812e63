import { apply, type Edit } from '../../../core/session/edit.ts';
import { type Session, sessionFault } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { Desk } from '../desk.ts';

/**
 * A session with what a command is about to do to it. Nothing of it is in the session before `keep`, so that a command that
 * fails, or is stopped, leaves the session as it was.
 */
export class Draft {
  readonly desk: Desk;
  readonly #moves: { readonly edit: Edit; readonly isFound: boolean }[] = [];
  #session: Session;

  constructor(desk: Desk) {
    this.desk = desk;
    this.#session = desk.session;
  }

  /** The session as it will be. */
  get session(): Session {
    return this.#session;
  }

  /** Something the user decided: a step of undo. Throws PartsongError 'bad-option' for what cannot be. */
  decide(edit: Edit | undefined): void {
    this.#take(edit, false);
  }

  /** Something that was found, a placement say: no step of undo. */
  find(edit: Edit | undefined): void {
    this.#take(edit, true);
  }

  /** Puts all of it into the session, in order. */
  keep(): void {
    for (const { edit, isFound } of this.#moves.splice(0)) {
      if (isFound) this.desk.amend(edit);
      else this.desk.apply(edit);
    }
  }

  #take(edit: Edit | undefined, isFound: boolean): void {
    if (edit === undefined) return;
    const session = changed(this.#session, edit);
    if (session === this.#session) return;
    this.#session = session;
    this.#moves.push({ edit, isFound });
  }
}

function changed(before: Session, edit: Edit): Session {
  const refuse = (why: string, cause?: unknown): PartsongError =>
    new PartsongError('bad-option', `The session cannot be changed so: ${why}.`, 'It was left as it is.', undefined, {
      cause,
    });
  try {
    const after = apply(before, edit);
    const fault = sessionFault(after);
    if (fault !== undefined) throw refuse(fault);
    return after;
  } catch (error) {
    throw error instanceof RangeError ? refuse(error.message, error) : error;
  }
}
