import { isAbsolute, join, relative, resolve } from 'node:path';
import type { Edit } from '../../core/session/edit.ts';
import { beginHistory, doEdit, type History, redo, undo } from '../../core/session/history.ts';
import { emptySession, type Session } from '../../core/session/schema.ts';
import { WorkPool } from '../work/pool.ts';
import { Cache } from './cache.ts';
import { SessionStore } from './session-store.ts';

/**
 * An open session: it owns the document, its history, its caches and the workers. The command line and, later, the
 * screen send it edits and listen for changes; nobody else writes the session.
 */
export class Desk {
  readonly folder: string;
  readonly cache: Cache;
  readonly pool: WorkPool;
  readonly #store: SessionStore;
  readonly #listeners = new Set<(session: Session) => void>();
  #history: History;

  private constructor(folder: string, session: Session, pool: WorkPool) {
    this.folder = folder;
    this.#store = new SessionStore(folder);
    this.#history = beginHistory(session);
    this.cache = new Cache(join(folder, 'caches'));
    this.pool = pool;
  }

  /** A new session in a folder, not yet written. */
  static create(folder: string, title: string, pool = new WorkPool()): Desk {
    return new Desk(resolve(folder), emptySession(title), pool);
  }

  /** Opens a saved session. Throws PartsongError when there is none or it cannot be read. */
  static async open(folder: string, pool = new WorkPool()): Promise<Desk> {
    const store = new SessionStore(resolve(folder));
    const { session } = await store.load();
    return new Desk(store.folder, session, pool);
  }

  get session(): Session {
    return this.#history.present;
  }

  apply(edit: Edit): void {
    this.#move(doEdit(this.#history, edit));
  }

  undo(): void {
    this.#move(undo(this.#history));
  }

  redo(): void {
    this.#move(redo(this.#history));
  }

  /** Calls back after every change; returns how to stop it. */
  onChange(listener: (session: Session) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** Writes session.json atomically. */
  async save(): Promise<void> {
    await this.#store.save(this.session);
  }

  /** A clip's path as the session keeps it: relative to the folder where it lies inside, absolute elsewhere. */
  keptPath(file: string): string {
    const path = relative(this.folder, resolve(file));
    return path.startsWith('..') || isAbsolute(path) ? resolve(file) : path;
  }

  /** The absolute path of a kept one. */
  fullPath(kept: string): string {
    return resolve(this.folder, kept);
  }

  async close(): Promise<void> {
    await this.pool.close();
  }

  #move(history: History): void {
    if (history === this.#history) return;
    this.#history = history;
    for (const listener of this.#listeners) listener(this.session);
  }
}
