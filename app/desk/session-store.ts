import { existsSync } from 'node:fs';
import { copyFile, mkdir, open, readFile, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { formatSession, parseSession, type Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';

const FILE_NAME = 'session.json';
/** How many older copies are kept beside the session (session.json.1 is the newest of them). */
const OLDER_COPIES = 2;

/** Reads and writes the session.json of one folder. */
export class SessionStore {
  readonly folder: string;
  readonly path: string;

  constructor(folder: string) {
    this.folder = folder;
    this.path = join(folder, FILE_NAME);
  }

  get exists(): boolean {
    return existsSync(this.path);
  }

  /**
   * The session as last saved. When the newest file is damaged, the newest older copy that can be read is given
   * instead, with `recoveredFrom` naming it. Throws PartsongError when none can.
   */
  async load(): Promise<{ session: Session; recoveredFrom: string | undefined }> {
    try {
      return { session: await this.#read(this.path), recoveredFrom: undefined };
    } catch (fault) {
      if (fault instanceof PartsongError && fault.code === 'session-damaged') {
        for (let age = 1; age <= OLDER_COPIES; age++) {
          const copy = `${this.path}.${age}`;
          try {
            return { session: await this.#read(copy), recoveredFrom: copy };
          } catch {
            // An older copy that cannot be read either: the next older one may.
          }
        }
      }
      throw fault;
    }
  }

  /**
   * Writes beside the session and renames, so that a kill at any moment leaves the old or the new one whole; the file
   * replaced becomes the newest older copy.
   */
  async save(session: Session): Promise<void> {
    await mkdir(this.folder, { recursive: true });
    const part = `${this.path}.part`;
    const file = await open(part, 'w');
    try {
      await file.writeFile(formatSession(session));
      await file.sync();
    } finally {
      await file.close();
    }
    try {
      await this.#keepOlder();
      await rename(part, this.path);
    } finally {
      await rm(part, { force: true });
    }
  }

  async #read(path: string): Promise<Session> {
    let text: string;
    try {
      text = await readFile(path, 'utf8');
    } catch (cause) {
      throw new PartsongError(
        'file-missing',
        `There is no session at ${path}.`,
        'Check the folder, or make a session with "partsong mix".',
        path,
        { cause },
      );
    }
    return parseSession(text, path);
  }

  async #keepOlder(): Promise<void> {
    if (!this.exists) return;
    for (let age = OLDER_COPIES - 1; age >= 1; age--) {
      if (existsSync(`${this.path}.${age}`)) await rename(`${this.path}.${age}`, `${this.path}.${age + 1}`);
    }
    // A copy, not a rename: at no moment is there a folder without a session.json.
    await copyFile(this.path, `${this.path}.1`);
  }
}
