import type { History } from '../../core/session/history.ts';
import { formatSession, type Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { targetFault } from '../media/whole-file.ts';
import type { HistoryStore } from './history-store.ts';
import { SessionLock } from './lock.ts';
import { hashOf, type SessionStore } from './session-store.ts';

export type Saved = 'saved' | 'saving' | 'failed';

/** session.json is written when nothing was changed for so long, ms. */
const QUIET_MS = 300;
/** And at the latest so long after the first change that it does not hold, ms. */
const LATEST_MS = 900;
/** Saving is tried again after so long, doubled each time up to the second value, ms. */
const RETRY_MS = [1000, 5000] as const;
/** The history is written anew when it has this many lines more than twice its steps. */
const SPARE_LINES = 1000;

/** Where a session is kept, and in which state it was found. */
export interface Kept {
  readonly sessions: SessionStore;
  readonly histories: HistoryStore;
  /** undefined: the folder could not be written to when it was opened. */
  readonly lock: SessionLock | undefined;
  /** Who holds it, for people. */
  readonly by: string | undefined;
  /** The session.json on the disk; undefined when there is none that holds. */
  readonly stored: { readonly session: Session; readonly hash: string } | undefined;
}

/**
 * Keeps a session on the disk. Each change goes to the end of the history file at once, in order; session.json follows
 * within LATEST_MS, always after a mark in the history that knows it. When the disk refuses, it is tried again and
 * again, and nothing is lost meanwhile but by the end of the process.
 */
export class Autosave {
  readonly #kept: Kept;
  readonly #historyOf: () => History;
  readonly #listeners = new Set<(saved: Saved, fault: PartsongError | null) => void>();
  #lines: string[] = [];
  #lock: SessionLock | undefined;
  #stored: Kept['stored'];
  #saved: Saved = 'saved';
  #fault: PartsongError | null = null;
  #isDue = false;
  #dueBy = Infinity;
  #timer: NodeJS.Timeout | undefined;
  #running: Promise<void> | undefined;
  #failures = 0;
  #isLost = false;
  #isClosed = false;

  /** `historyOf` gives the history as it is at that moment. */
  constructor(kept: Kept, historyOf: () => History) {
    this.#kept = kept;
    this.#lock = kept.lock;
    this.#stored = kept.stored;
    this.#historyOf = historyOf;
    if (kept.stored?.session !== historyOf().present) this.#changed();
  }

  get saved(): Saved {
    return this.#saved;
  }

  /** Why saving fails; null when it does not. */
  get fault(): PartsongError | null {
    return this.#fault;
  }

  /** Calls back when the state changes, and with a fault when saving begins to fail. */
  onSaved(listener: (saved: Saved, fault: PartsongError | null) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** A change was made; `line` is its record for the history. */
  note(line: string): void {
    if (this.#isClosed) throw new RangeError('the session is closed');
    this.#lines.push(line);
    this.#changed();
    this.#kick();
  }

  /** Puts everything on the disk now. Throws the PartsongError that hinders it. */
  async flush(): Promise<void> {
    // Twice: the run that is under way may have passed the newest change by.
    for (let turn = 0; turn < 2; turn++) {
      if (this.#saved !== 'saved') this.#isDue = true;
      this.#kick();
      await this.#running;
    }
    if (this.#fault !== null) throw this.#fault;
  }

  /** Ends the keeping and gives back the lock; nothing is written after it. */
  async close(): Promise<void> {
    this.#isClosed = true;
    clearTimeout(this.#timer);
    await this.#running;
    await this.#kept.histories.close();
    await this.#lock?.release();
  }

  #changed(): void {
    const now = performance.now();
    this.#dueBy = Math.min(this.#dueBy, now + LATEST_MS);
    if (this.#failures > 0) return;
    this.#tell('saving', null);
    this.#wakeAfter(Math.min(QUIET_MS, this.#dueBy - now));
  }

  #wakeAfter(ms: number): void {
    clearTimeout(this.#timer);
    if (this.#isClosed) return;
    this.#timer = setTimeout(
      () => {
        this.#isDue = true;
        this.#kick();
      },
      Math.max(0, ms),
    );
  }

  #kick(): void {
    if (this.#isClosed && this.#running === undefined) return;
    this.#running ??= this.#run().finally(() => {
      this.#running = undefined;
    });
  }

  async #run(): Promise<void> {
    try {
      for (;;) {
        if (this.#isLost) throw lostFault(this.#kept.sessions.folder);
        if (this.#isDue) {
          this.#isDue = false;
          await this.#save();
        } else if (this.#lines.length > 0 && this.#kept.histories.begun && this.#failures === 0) {
          await this.#append();
        } else if (this.#lines.length > 0 && this.#failures === 0) {
          await this.#writeHistory();
        } else return;
      }
    } catch (error) {
      this.#failed(error);
    }
  }

  async #append(): Promise<void> {
    const lines = this.#lines;
    this.#lines = [];
    try {
      await this.#kept.histories.append(lines);
    } catch (error) {
      this.#lines = [...lines, ...this.#lines];
      throw error;
    }
  }

  async #writeHistory(): Promise<void> {
    const history = this.#historyOf();
    this.#lines = [];
    await this.#kept.histories.writeWhole(
      history,
      this.#stored?.hash ?? null,
      this.#stored?.session === history.present,
    );
  }

  async #save(): Promise<void> {
    const { sessions, histories, by } = this.#kept;
    this.#lock ??= await SessionLock.take(sessions.folder, by);
    if (!(await this.#lock.isOurs())) {
      this.#isLost = true;
      throw lostFault(sessions.folder);
    }
    if (!histories.begun) await this.#writeHistory();
    while (this.#lines.length > 0) await this.#append();
    // From here to the mark nothing may come between: the mark is for exactly this session.
    const session = this.#historyOf().present;
    this.#dueBy = Infinity;
    const text = formatSession(session);
    const hash = hashOf(text);
    await histories.mark(hash);
    const other = await sessions.write(text);
    this.#stored = { session, hash };
    this.#failures = 0;
    if (this.#historyOf().present === session && this.#lines.length === 0) this.#tell('saved', null);
    else this.#changed();
    if (other !== undefined) this.#tellOnce(otherFault(sessions.folder, other));
    await this.#compact();
  }

  /** Drops what nobody can come back to: the way of a fader, steps undone and replaced. */
  async #compact(): Promise<void> {
    const history = this.#historyOf();
    const steps = history.past.length + history.future.length;
    if (this.#kept.histories.records <= 2 * steps + SPARE_LINES) return;
    if (this.#lines.length > 0 || history.present !== this.#stored?.session) return;
    await this.#kept.histories.writeWhole(history, this.#stored.hash, true);
  }

  #failed(error: unknown): void {
    const { folder } = this.#kept.sessions;
    const known = targetFault(error, folder);
    const fault = known instanceof PartsongError ? known : unforeseenFault(folder, error);
    const isNews = this.#failures === 0 || this.#fault?.message !== fault.message;
    this.#failures++;
    this.#saved = 'failed';
    this.#fault = fault;
    if (isNews) for (const listener of this.#listeners) listener('failed', fault);
    if (!this.#isLost) this.#wakeAfter(Math.min(RETRY_MS[1], RETRY_MS[0] * 2 ** (this.#failures - 1)));
  }

  #tell(saved: Saved, fault: PartsongError | null): void {
    this.#fault = fault;
    if (this.#saved === saved) return;
    this.#saved = saved;
    for (const listener of this.#listeners) listener(saved, fault);
  }

  /** A fault that does not hinder the saving. */
  #tellOnce(fault: PartsongError): void {
    for (const listener of this.#listeners) listener(this.#saved, fault);
  }
}

function lostFault(folder: string): PartsongError {
  return new PartsongError(
    'session-open',
    `Another Partsong has taken over the session ${folder} while this computer slept or was cut off, so changes made here are no longer saved.`,
    'Close the session here, and open it again when it is closed there.',
    folder,
  );
}

function otherFault(folder: string, name: string): PartsongError {
  return new PartsongError(
    'session-open',
    `The session.json in ${folder} was changed by something else while it was open here. What is open here was saved.`,
    `The other one was kept as ${name}; remove it when you do not need it.`,
    folder,
  );
}

function unforeseenFault(folder: string, cause: unknown): PartsongError {
  return new PartsongError(
    'target-unwritable',
    `The session in ${folder} could not be saved: ${cause instanceof Error ? cause.message : String(cause)}.`,
    'It is tried again by itself; check that the disk is connected.',
    folder,
    { cause },
  );
}
