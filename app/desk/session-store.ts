import { createHash } from 'node:crypto';
import { copyFile, lstat, readdir, readFile, rename, rm, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parseSession, type Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { PARTIAL_NAME, systemCode, writeWhole } from '../media/whole-file.ts';
import { LOCK_DRAFT } from './lock.ts';

export const SESSION_NAME = 'session.json';
/** How many older copies are kept beside the session (session.json.1 is the newest of them). */
const OLDER_COPIES = 2;
/** The newest older copy stays for so long before the next takes its place: with autosave, a younger one is of no use, ms. */
const COPY_AGE_MS = 300_000;

const DRAFT_LIVES_MS = 3_600_000;

/** A session.json, or an older copy, as it lies on the disk. */
export interface StoredSession {
  readonly session: Session;
  /** SHA-256 of the text, hex. */
  readonly hash: string;
  readonly path: string;
}

/** Reads and writes the session.json of one folder, which must be there. Writes no other file but its copies. */
export class SessionStore {
  readonly folder: string;
  readonly path: string;
  /** The session.json as this store last read or wrote it. */
  #seen: { readonly hash: string; readonly changedMs: number; readonly sizeBytes: number } | undefined;

  constructor(folder: string) {
    this.folder = folder;
    this.path = join(folder, SESSION_NAME);
  }

  /**
   * The session as last saved. Throws PartsongError 'file-missing' | 'file-unreadable' | 'session-damaged' |
   * 'session-newer'.
   */
  async read(): Promise<StoredSession> {
    const stored = await this.#read(this.path);
    await this.#see(stored.hash);
    return stored;
  }

  /** The older copies that can be read, newest first. */
  async readCopies(): Promise<StoredSession[]> {
    const copies: StoredSession[] = [];
    for (let age = 1; age <= OLDER_COPIES; age++) {
      // One that is not there or is damaged is of no use; the next may be.
      const copy = await this.#read(`${this.path}.${age}`).catch(() => undefined);
      if (copy !== undefined) copies.push(copy);
    }
    return copies;
  }

  /**
   * Writes the text of a session so that a kill at any moment leaves the old or the new one whole. What it replaces
   * becomes the newest older copy when that one is COPY_AGE_MS old, or at once when `keepCopy`. A session.json that
   * somebody else has put there since is moved aside; gives its new name then. Throws PartsongError
   * 'target-unwritable' | 'target-full'.
   */
  async write(text: string, options: { readonly keepCopy?: boolean } = {}): Promise<string | undefined> {
    const other = (await this.#isOther()) ? await this.setAside('other') : undefined;
    await this.#keepCopy(options.keepCopy ?? false);
    await writeWhole(this.path, (partial) => writeFile(partial, text));
    await this.#see(hashOf(text));
    return other;
  }

  /** Moves a session.json that is not to be written over out of the way; gives its new name, undefined when there is none. */
  async setAside(as: string): Promise<string | undefined> {
    return (await moveAside(this.path, as)) ? `${SESSION_NAME}.${as}` : undefined;
  }

  /** Removes what a killed process left half-written here. */
  async removePartials(): Promise<void> {
    for (const name of await readdir(this.folder).catch(() => [])) {
      const isPartial = PARTIAL_NAME.test(name) && /\.(jsonl?|\d)$/.test(name);
      if (!isPartial && !(await isOldDraft(this.folder, name))) continue;
      await rm(join(this.folder, name), { force: true }).catch(() => undefined);
    }
  }

  async #read(path: string): Promise<StoredSession> {
    let text: string;
    try {
      text = await readFile(path, 'utf8');
    } catch (cause) {
      throw unreadable(path, cause);
    }
    return { session: parseSession(text, path), hash: hashOf(text), path };
  }

  async #see(hash: string): Promise<void> {
    const facts = await stat(this.path).catch(() => undefined);
    this.#seen = facts === undefined ? undefined : { hash, changedMs: facts.mtimeMs, sizeBytes: facts.size };
  }

  async #isOther(): Promise<boolean> {
    const facts = await stat(this.path).catch(() => undefined);
    if (facts === undefined || this.#seen === undefined) return false;
    if (facts.mtimeMs === this.#seen.changedMs && facts.size === this.#seen.sizeBytes) return false;
    return hashOf(await readFile(this.path, 'utf8')) !== this.#seen.hash;
  }

  async #keepCopy(always: boolean): Promise<void> {
    if ((await stat(this.path).catch(() => undefined)) === undefined) return;
    const newest = `${this.path}.1`;
    const copied = await stat(newest).catch(() => undefined);
    const ageMs = copied === undefined ? Infinity : Date.now() - copied.mtimeMs;
    if (!always && ageMs >= 0 && ageMs < COPY_AGE_MS) return;
    for (let age = OLDER_COPIES - 1; age >= 1; age--) {
      await rename(`${this.path}.${age}`, `${this.path}.${age + 1}`).catch(() => undefined);
    }
    // A copy, not a rename: at no moment is there a folder without a session.json.
    await writeWhole(newest, (partial) => copyFile(this.path, partial));
  }
}

/** SHA-256 of a text, hex. */
export function hashOf(text: string): string {
  return createHash('sha256').update(text).digest('hex');
}

/** Renames a file to `<path>.<as>`, whatever it is; false when there is none. */
export async function moveAside(path: string, as: string): Promise<boolean> {
  if ((await lstat(path).catch(() => undefined)) === undefined) return false;
  await rename(path, `${path}.${as}`);
  return true;
}

/** A draft of a lock may be another's that is just being made; an old one is nobody's. */
async function isOldDraft(folder: string, name: string): Promise<boolean> {
  if (!name.startsWith(LOCK_DRAFT)) return false;
  const facts = await stat(join(folder, name)).catch(() => undefined);
  return facts !== undefined && Date.now() - facts.mtimeMs > DRAFT_LIVES_MS;
}

function unreadable(path: string, cause: unknown): PartsongError {
  const code = systemCode(cause);
  if (code === 'ENOENT' || code === 'ENOTDIR') {
    return new PartsongError(
      'file-missing',
      `There is no session at ${path}.`,
      'Check the folder, or begin a new session.',
      path,
      { cause },
    );
  }
  return new PartsongError(
    'file-unreadable',
    `The session ${path} cannot be read (${code ?? String(cause)}).`,
    'Allow reading it, check that its disk is connected, or copy the folder to this computer.',
    path,
    { cause },
  );
}
