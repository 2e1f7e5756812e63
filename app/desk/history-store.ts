import { constants } from 'node:fs';
import { copyFile, type FileHandle, lstat, open, readFile, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import type { History } from '../../core/session/history.ts';
import { systemCode, writeWhole } from '../media/whole-file.ts';
import { type ReadHistory, readHistory, savedLine, wholeLines } from './history-records.ts';
import { moveAside } from './session-store.ts';

export const HISTORY_NAME = 'history.jsonl';

/**
 * The file beside session.json that keeps every step, so that undo reaches back over a restart. Lines are only ever
 * added; now and then the whole is written anew, beside and renamed, when most lines are no longer needed.
 */
export class HistoryStore {
  readonly path: string;
  #file: FileHandle | undefined;
  /** Length of the good part; whatever lies behind is the rest of a write that failed. */
  #bytes = 0;
  #records = 0;
  #begun = false;
  #hasTwins = false;

  constructor(folder: string) {
    this.path = join(folder, HISTORY_NAME);
  }

  /** Whether lines can be added: the file was read or written by this store and nothing has gone wrong with it. */
  get begun(): boolean {
    return this.#begun;
  }

  /** Lines in the file after its first. */
  get records(): number {
    return this.#records;
  }

  /** The history kept here. 'none': no file; 'damaged': a file that is no history. Errors of the disk pass. */
  async read(): Promise<ReadHistory | 'none' | 'damaged'> {
    const facts = await lstat(this.path).catch(() => undefined);
    if (facts === undefined) return 'none';
    // A link would lead the writing elsewhere, perhaps to a clip.
    if (!facts.isFile()) return 'damaged';
    this.#hasTwins = facts.nlink > 1;
    return readHistory(await readFile(this.path), this.path) ?? 'damaged';
  }

  /** Goes on with the file as it was read. */
  continueFrom(read: ReadHistory): void {
    this.#bytes = read.goodBytes;
    this.#records = read.records;
    // A file that lies under a second name too (a backup by hard links) is not to change: it is written anew.
    this.#begun = !this.#hasTwins;
  }

  /** Adds lines. When it throws, none of them counts as added, and the next call mends the file first. */
  async append(lines: readonly string[]): Promise<void> {
    const text = Buffer.from(lines.join(''));
    try {
      this.#file ??= await this.#open();
      await this.#file.appendFile(text);
      this.#bytes += text.length;
      this.#records += lines.length;
    } catch (error) {
      await this.#letGo();
      throw error;
    }
  }

  /** Waits until what was added is on the disk. When it throws, the file is to be written anew. */
  async sync(): Promise<void> {
    try {
      this.#file ??= await this.#open();
      await this.#file.datasync();
      const [there, ours] = [await stat(this.path), await this.#file.stat()];
      if (there.ino !== ours.ino) throw new Error('the history file was exchanged');
    } catch (error) {
      // What was given to the system may never reach the disk.
      this.#begun = false;
      await this.#letGo();
      throw error;
    }
  }

  /**
   * Writes the whole history anew, in one step. `follows`: hash of the session.json that lies there; `saved`: whether it
   * is the present session.
   */
  async writeWhole(history: History, follows: string | null, saved: boolean): Promise<void> {
    const lines = wholeLines(history, follows, isDeepStrictEqual);
    if (saved && follows !== null) lines.push(savedLine(follows));
    const text = Buffer.from(lines.join(''));
    await this.#letGo();
    this.#begun = false;
    await writeWhole(this.path, (partial) => writeFile(partial, text));
    this.#bytes = text.length;
    this.#records = lines.length - 1;
    this.#begun = true;
  }

  /** Moves the file out of the way; gives its new name, undefined when there was none. */
  async setAside(as = 'aside'): Promise<string | undefined> {
    await this.#letGo();
    this.#begun = false;
    return (await moveAside(this.path, as)) ? `${HISTORY_NAME}.${as}` : undefined;
  }

  /** Keeps the file as it is under another name too, before its bad end is cut off; gives that name. */
  async copyAside(as = 'damaged'): Promise<string> {
    const name = `${HISTORY_NAME}.${as}`;
    await writeWhole(`${this.path}.${as}`, (partial) => copyFile(this.path, partial));
    return name;
  }

  async close(): Promise<void> {
    await this.#letGo();
  }

  async #open(): Promise<FileHandle> {
    // Where the system knows it, a link put there meanwhile is refused.
    const flags = constants.O_WRONLY | constants.O_APPEND | (constants.O_NOFOLLOW ?? 0);
    let file: FileHandle;
    try {
      file = await open(this.path, flags);
    } catch (error) {
      if (systemCode(error) === 'ENOENT') this.#begun = false;
      throw error;
    }
    try {
      const facts = await file.stat();
      if (!facts.isFile() || facts.nlink > 1 || facts.size < this.#bytes) {
        this.#begun = false;
        throw new Error('the history file was exchanged');
      }
      if (facts.size > this.#bytes) await file.truncate(this.#bytes);
      return file;
    } catch (error) {
      await file.close();
      throw error;
    }
  }

  async #letGo(): Promise<void> {
    const file = this.#file;
    this.#file = undefined;
    await file?.close().catch(() => undefined);
  }
}
