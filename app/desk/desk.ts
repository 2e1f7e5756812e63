import { mkdtempSync, realpathSync, rmSync } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, dirname, isAbsolute, join, relative, resolve, sep } from 'node:path';
import type { Edit } from '../../core/session/edit.ts';
import { editLabel } from '../../core/session/edit-label.ts';
import { editSchema } from '../../core/session/edit-schema.ts';
import { amend, beginHistory, doEdit, type History, redo, type Step, undo } from '../../core/session/history.ts';
import { emptySession, formatSession, type Session, sessionFault } from '../../core/session/schema.ts';
import { smallerEdit } from '../../core/session/small-edit.ts';
import type { PartsongError } from '../../core/signal/fault.ts';
import { WorkPool } from '../work/pool.ts';
import { Autosave, type Saved } from './autosave.ts';
import { Cache } from './cache.ts';
import { amendLine, doLine, moveLine } from './history-records.ts';
import { HistoryStore } from './history-store.ts';
import { beginSession, type OpenedSession, openSession } from './open-session.ts';
import { SessionStore } from './session-store.ts';

export type { Saved } from './autosave.ts';

/**
 * What happened to the session: an edit was applied as a step or as a finding, or undo or redo put another session in its
 * place.
 */
export type DeskChange =
  | { readonly kind: 'edited' | 'amended'; readonly edit: Edit; readonly revision: number }
  | { readonly kind: 'replaced'; readonly revision: number };

export interface DeskOptions {
  /** Workers; closed with the desk. */
  readonly pool?: WorkPool;
  /** What holds the session open, for people: "the window". */
  readonly by?: string;
}

/**
 * An open session: it owns the document, its history, its caches and the workers. The screen and the command line send
 * it edits and listen for changes; nobody else writes the session. Clips are only ever read.
 */
export class Desk {
  readonly folder: string;
  readonly cache: Cache;
  readonly pool: WorkPool;
  /** What was mended when it was opened, for people; null when nothing was. */
  readonly recovered: string | null;
  readonly #listeners = new Set<(change: DeskChange, session: Session) => void>();
  readonly #autosave: Autosave | undefined;
  /** Where the caches are, when the session's folder cannot take them; removed at closing. */
  readonly #scratch: string | undefined;
  #history: History;
  #revision = 0;
  /** Whether the next edit may become one step with the one before it. */
  #mayMerge = false;

  private constructor(folder: string, history: History, pool: WorkPool, opened?: OpenedSession) {
    this.folder = folder;
    this.pool = pool;
    this.recovered = opened?.recovered ?? null;
    this.#history = history;
    const caches = cachesOf(folder, opened !== undefined);
    this.cache = caches.cache;
    this.#scratch = caches.scratch;
    if (opened?.kept.lock !== undefined) this.cache.sweep();
    this.#autosave = opened === undefined ? undefined : new Autosave(opened.kept, () => this.#history);
  }

  /** A session for one piece of work: nothing of it is written before `save`, no lock is taken, no steps are kept. */
  static create(folder: string, title: string, pool = new WorkPool()): Desk {
    return new Desk(resolve(folder), beginHistory(emptySession(title.slice(0, 200))), pool);
  }

  /**
   * Makes a session in a folder and opens it; every change of it is kept from then on. Throws PartsongError
   * 'target-exists' (there is a session already) | 'session-open' | 'target-unwritable' | 'target-full'.
   */
  static async begin(folder: string, title: string, options: DeskOptions = {}): Promise<Desk> {
    return Desk.#of(await beginSession(folder, title, options.by), options);
  }

  /**
   * Opens a session by its folder or its session.json, with the steps that can be undone and done again; what a crash
   * or a damaged file left is mended, see `recovered`. Throws PartsongError 'file-missing' | 'file-unreadable' |
   * 'session-damaged' | 'session-newer' | 'session-open'.
   */
  static async open(folder: string, options: DeskOptions = {}): Promise<Desk> {
    return Desk.#of(await openSession(folder, options.by), options);
  }

  static #of(opened: OpenedSession, options: DeskOptions): Desk {
    return new Desk(opened.kept.sessions.folder, opened.history, options.pool ?? new WorkPool(), opened);
  }

  get session(): Session {
    return this.#history.present;
  }

  /** Counts every change since it was opened. */
  get revision(): number {
    return this.#revision;
  }

  /** What undo would take back, in words; null when there is nothing. */
  get undoLabel(): string | null {
    const step = this.#history.past.at(-1);
    return step === undefined ? null : this.#labelOf(step);
  }

  /** What redo would do again, in words; null when there is nothing. */
  get redoLabel(): string | null {
    const step = this.#history.future.at(-1);
    return step === undefined ? null : this.#labelOf(step);
  }

  /** Whether everything is on the disk. Always 'saved' for one made by `create`. */
  get saved(): Saved {
    return this.#autosave?.saved ?? 'saved';
  }

  /** Why `saved` is 'failed'; null when it is not. */
  get saveFault(): PartsongError | null {
    return this.#autosave?.fault ?? null;
  }

  /**
   * Applies an edit; false when it changes nothing. Edits in a row with one `mergeKey` are one step of undo. Throws
   * RangeError, and changes nothing, for an edit that cannot be or that would lead to a session that could not be read
   * again.
   */
  apply(edit: Edit, mergeKey?: string): boolean {
    const checked = smallerEdit(this.session, checkedEdit(edit));
    const apart = !this.#mayMerge;
    const history = doEdit(this.#history, checked, mergeKey, apart);
    if (history === this.#history) return false;
    refuseBroken(edit, history);
    this.#mayMerge = true;
    this.#move(history, doLine(checked, mergeKey, apart), { kind: 'edited', edit: checked });
    return true;
  }

  /**
   * Puts into the session what was found by itself (a placement, say); false when it changes nothing. It is no step: undo
   * and redo stay as they are, and a session they bring back may be without it, so that it is to be put in again then.
   * Throws as `apply` does.
   */
  amend(edit: Edit): boolean {
    const checked = smallerEdit(this.session, checkedEdit(edit));
    const history = amend(this.#history, checked);
    if (history === this.#history) return false;
    refuseBroken(edit, history);
    this.#move(history, amendLine(checked), { kind: 'amended', edit: checked });
    return true;
  }

  /** Takes the last step back; false when there is none. */
  undo(): boolean {
    return this.#step(undo(this.#history), 'undo');
  }

  /** Does the last step taken back again; false when there is none. */
  redo(): boolean {
    return this.#step(redo(this.#history), 'redo');
  }

  /** Calls back after every change, before the call that made it returns; gives how to stop it. */
  onChange(listener: (change: DeskChange, session: Session) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** Calls back when `saved` changes; with the fault when saving begins to fail (it is tried again by itself). */
  onSaved(listener: (saved: Saved, fault: PartsongError | null) => void): () => void {
    return this.#autosave?.onSaved(listener) ?? (() => undefined);
  }

  /**
   * Puts the session on the disk now. Of one made by `create` it takes the place of what session and steps there were,
   * which are kept beside it. Throws PartsongError 'target-unwritable' | 'target-full' | 'session-open'.
   */
  async save(): Promise<void> {
    if (this.#autosave !== undefined) {
      await this.#autosave.flush();
      return;
    }
    await mkdir(this.folder, { recursive: true });
    await new HistoryStore(this.folder).setAside();
    await new SessionStore(this.folder).write(formatSession(this.session), { keepCopy: true });
  }

  /** A clip's path as the session keeps it: relative to the folder (with /) where it lies inside, absolute elsewhere. */
  keptPath(file: string): string {
    return keptPath(this.folder, file);
  }

  /** The absolute path of a kept one. */
  fullPath(kept: string): string {
    return resolve(this.folder, kept);
  }

  /**
   * Saves, gives the session free and ends the workers. When it cannot be saved the PartsongError is thrown and the desk
   * stays open, so that the user can make room; with `evenIfUnsaved` it closes all the same.
   */
  async close(options: { readonly evenIfUnsaved?: boolean } = {}): Promise<void> {
    if (this.#autosave !== undefined) {
      await this.#autosave.flush().catch((fault: unknown) => {
        if (options.evenIfUnsaved !== true) throw fault;
      });
      await this.#autosave.close();
    }
    await this.pool.close();
    if (this.#scratch !== undefined) rmSync(this.#scratch, { recursive: true, force: true });
  }

  #step(history: History, direction: 'undo' | 'redo'): boolean {
    if (history === this.#history) return false;
    this.#mayMerge = false;
    this.#move(history, moveLine(direction), { kind: 'replaced' });
    return true;
  }

  #move(
    history: History,
    line: string,
    change: { kind: 'edited' | 'amended'; edit: Edit } | { kind: 'replaced' },
  ): void {
    const before = this.#history;
    this.#history = history;
    try {
      this.#autosave?.note(line);
    } catch (error) {
      this.#history = before;
      throw error;
    }
    this.#revision++;
    for (const listener of this.#listeners) listener({ ...change, revision: this.#revision }, this.session);
  }

  #labelOf(step: Step): string {
    return editLabel(step.edit, step.session, this.session);
  }
}

/** An edit as it will be read back later: checked, and without anything JSON does not hold. */
function checkedEdit(edit: Edit): Edit {
  const parsed = editSchema.safeParse(JSON.parse(JSON.stringify(edit)));
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0]!;
  throw new RangeError(`the edit ${edit.kind} cannot be: ${issue.path.join('.')}: ${issue.message}`);
}

function refuseBroken(edit: Edit, history: History): void {
  const fault = sessionFault(history.present);
  if (fault !== undefined) throw new RangeError(`the edit ${edit.kind} cannot be: ${fault}`);
}

/** The caches in a session's folder; of one that is only to be looked at, elsewhere where nothing can be written there. */
function cachesOf(folder: string, isKept: boolean): { cache: Cache; scratch: string | undefined } {
  try {
    return { cache: new Cache(join(folder, 'caches')), scratch: undefined };
  } catch (error) {
    if (!isKept) throw error;
    const scratch = mkdtempSync(join(tmpdir(), 'partsong-'));
    return { cache: new Cache(scratch), scratch };
  }
}

/** A clip's path as a session in `folder` keeps it: relative to it (with /) where it lies inside, absolute elsewhere. */
export function keptPath(folder: string, file: string): string {
  const full = resolve(file);
  const inside =
    insideOf(resolve(folder), full) ?? insideOf(realOf(folder), join(realOf(dirname(full)), basename(full)));
  return inside?.split(sep).join('/') ?? full;
}

function insideOf(folder: string, file: string): string | undefined {
  const path = relative(folder, file);
  return path === '' || path === '..' || path.startsWith(`..${sep}`) || isAbsolute(path) ? undefined : path;
}

/** A folder by its own name, whatever links led there. */
function realOf(folder: string): string {
  try {
    return realpathSync(folder);
  } catch {
    return resolve(folder);
  }
}
