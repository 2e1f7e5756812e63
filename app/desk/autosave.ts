import type { History } from '../../core/session/history.ts';
import { formatSession, type Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { targetFault } from '../media/whole-file.ts';
import { savedLine } from './history-records.ts';
import type { HistoryStore } from './history-store.ts';
import { SessionLock } from './lock.ts';
import { hashOf, type SessionStore } from './session-store.ts';

export type Saved = 'saved' | 'saving' | 'failed';

/** session.json is written when nothing was changed for so long, ms. */
const QUIET_MS = 300;
/** And at the latest so long after the first change that it does not hold, ms. */
const LATEST_MS = 900;
/** Saving that failed is tried again after so long, ms. */
const RETRY_MS = 2000;
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
  #draining: Promise<void> | undefined;
  #isToCompact = false;
  #isFailing = false;
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
    if (!this.#isFailing) this.#drain().catch((error: unknown) => this.#failed(error));
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
    await this.#draining?.catch(() => undefined);
    await this.#kept.histories.close();
    await this.#lock?.release();
  }

  #changed(): void {
    const now = performance.now();
    this.#dueBy = Math.min(this.#dueBy, now + LATEST_MS);
    if (this.#isFailing) return;
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
    if (!this.#isDue || this.#running !== undefined || this.#isClosed) return;
    this.#running = this.#run();
  }

  async #run(): Promise<void> {
    try {
      while (this.#isDue) {
        this.#isDue = false;
        await this.#save();
      }
    } catch (error) {
      this.#failed(error);
    } finally {
      // In one go with the last look at what is due, so that nothing falls between.
      this.#running = undefined;
    }
  }

  /** Brings the lines into the history file, one run at a time; goes on while session.json is being written. */
  async #drain(): Promise<void> {
    while (this.#lines.length > 0 || this.#isToCompact) {
      this.#draining ??= this.#drainLines();
      await this.#draining;
    }
  }

  /** Begun only when there is something to do. */
  async #drainLines(): Promise<void> {
    try {
      while (this.#lines.length > 0 || this.#isToCompact) {
        if (!this.#kept.histories.begun || this.#isToCompact) await this.#writeHistory();
        else await this.#append();
      }
    } finally {
      this.#draining = undefined;
    }
  }

  async #writeHistory(): Promise<void> {
    this.#isToCompact = false;
    // The history as it is now holds them.
    this.#lines = [];
    const history = this.#historyOf();
    const isStored = this.#stored?.session === history.present;
    await this.#kept.histories.writeWhole(history, this.#stored?.hash ?? null, isStored);
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

  async #save(): Promise<void> {
    const { sessions, histories, by } = this.#kept;
    if (this.#isLost) throw lostFault(sessions.folder);
    this.#lock ??= await SessionLock.take(sessions.folder, by);
    if (!(await this.#lock.isOurs())) {
      this.#isLost = true;
      throw lostFault(sessions.folder);
    }
    this.#isToCompact = !histories.begun;
    await this.#drain();
    // Nothing may come between session and mark, and no line may be left before it: it is for exactly this session.
    const session = this.#historyOf().present;
    this.#dueBy = Infinity;
    const text = formatSession(session);
    const hash = hashOf(text);
    this.#lines.push(savedLine(hash));
    await this.#drain();
    await histories.sync();
    const other = await sessions.write(text);
    this.#stored = { session, hash };
    this.#isFailing = false;
    if (this.#historyOf().present === session && this.#lines.length === 0) this.#tell('saved', null);
    else this.#changed();
    if (other !== undefined) this.#tellOnce(otherFault(sessions.folder, other));
    await this.#compact();
  }

  /** Drops what nobody can come back to: the way of a fader, steps undone and replaced. */
  async #compact(): Promise<void> {
    const { past, future } = this.#historyOf();
    this.#isToCompact = this.#kept.histories.records > 2 * (past.length + future.length) + SPARE_LINES;
    await this.#drain();
  }

  #failed(error: unknown): void {
    const { folder } = this.#kept.sessions;
    const known = targetFault(error, folder);
    const fault = known instanceof PartsongError ? known : unforeseenFault(folder, error);
    const isNews = !this.#isFailing || this.#fault?.message !== fault.message;
    this.#isFailing = true;
    this.#saved = 'failed';
    this.#fault = fault;
    if (isNews) for (const listener of this.#listeners) listener('failed', fault);
    if (!this.#isLost) this.#wakeAfter(RETRY_MS);
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
