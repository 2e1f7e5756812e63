import { createHash } from 'node:crypto';
import { createReadStream, existsSync } from 'node:fs';
import { type FileHandle, mkdir, open, rm, stat, statfs } from 'node:fs/promises';
import { extname, join } from 'node:path';
import type { Readable } from 'node:stream';
import { targetFault, targetFullFault, writeWhole } from '../media/whole-file.ts';

/** Bytes of a name that leave room for " (12)" and a partial file's own ending; file systems allow 255. */
const LONGEST_NAME_BYTES = 200;
/** Names that Windows keeps for devices, whatever their ending. */
const DEVICE_NAMES = /^(con|prn|aux|nul|com\d|lpt\d)(\.|$)/i;

/**
 * The name under which a clip from a page is kept: one that every system takes. Undefined for one with path parts or
 * control characters, which no honest page sends.
 */
export function safeClipName(name: string): string | undefined {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for.
  if (name.length > 1000 || /[/\\\u0000-\u001f\u007f]/.test(name) || /^\.{0,2}$/.test(name.trim())) return undefined;
  const plain = name
    .normalize('NFC')
    .replace(/[<>:"|?*\ud800-\udfff]/gu, '_')
    .replace(/[. ]+$/, '')
    .replace(/^\.+/, '_')
    .trim();
  if (plain === '') return undefined;
  const ending = Buffer.byteLength(extname(plain)) <= 12 ? extname(plain) : '';
  const letters = [...plain.slice(0, plain.length - ending.length)];
  while (Buffer.byteLength(letters.join('')) + Buffer.byteLength(ending) > LONGEST_NAME_BYTES) letters.pop();
  const cut = letters.join('') + ending;
  return DEVICE_NAMES.test(cut) ? `_${cut}` : cut;
}

/** Takes clips that a page sends into the session's folder. */
export class ClipIntake {
  /** Paths that are being written, so that two clips of one name do not meet. */
  readonly #underway = new Set<string>();
  readonly #freeBytes: (folder: string) => Promise<number>;

  /** freeBytes: how much room the disk of a folder has. */
  constructor(freeBytes = freeBytesOf) {
    this.#freeBytes = freeBytes;
  }

  /**
   * Writes the clip to `clips/` under a name not yet taken, and gives its path. At that name it is whole or not there:
   * when the page breaks off, nothing stays. A clip that was brought before, by name and to the byte, is not kept a second
   * time: the path is that of the first. name: as safeClipName gave it. Throws PartsongError 'target-full' before the
   * first byte when the disk surely has no room, or when it fills up; 'target-unwritable' where writing is not possible;
   * and CutOffError when fewer bytes came than were announced.
   */
  async take(sessionFolder: string, name: string, sizeBytes: number, body: Readable): Promise<string> {
    const folder = join(sessionFolder, 'clips');
    await mkdir(folder, { recursive: true }).catch((error: unknown) => {
      throw targetFault(error, folder);
    });
    const { path, namesakes } = this.#freePath(folder, name);
    this.#underway.add(path);
    try {
      if (sizeBytes > (await this.#freeBytes(folder))) throw targetFullFault(path);
      await writeWhole(path, (partial) => writeBody(partial, sizeBytes, body));
      for (const namesake of namesakes) {
        if (!(await areAlike(path, namesake))) continue;
        await rm(path);
        return namesake;
      }
      return path;
    } finally {
      this.#underway.delete(path);
    }
  }

  /** A path not yet taken, and those of the clips of that name which are there. */
  #freePath(folder: string, name: string): { path: string; namesakes: string[] } {
    const ending = extname(name);
    const bare = name.slice(0, name.length - ending.length);
    const namesakes: string[] = [];
    let path = join(folder, name);
    for (let n = 2; existsSync(path) || this.#underway.has(path); n++) {
      if (!this.#underway.has(path)) namesakes.push(path);
      path = join(folder, `${bare} (${n})${ending}`);
    }
    return { path, namesakes };
  }
}

/** The page broke off before the clip was whole. */
export class CutOffError extends Error {
  override readonly name = 'CutOffError';
  constructor(options?: ErrorOptions) {
    super('the clip was cut off on its way', options);
  }
}

/** The body stays open when the disk fails, so that the page can still be told. */
async function writeBody(path: string, sizeBytes: number, body: Readable): Promise<void> {
  const file = await open(path, 'w');
  let written = 0;
  try {
    const pieces = body.iterator({ destroyOnReturn: false });
    for (;;) {
      const piece = await pieces.next().catch((error: unknown) => {
        throw new CutOffError({ cause: error });
      });
      if (piece.done === true) break;
      written += piece.value.length;
      await writeAll(file, piece.value);
    }
  } finally {
    await file.close();
  }
  if (written !== sizeBytes) throw new CutOffError();
}

async function writeAll(file: FileHandle, piece: Uint8Array): Promise<void> {
  for (let at = 0; at < piece.length; ) at += (await file.write(piece, at)).bytesWritten;
}

/** Whether two files hold the same bytes; false where one cannot be read. */
async function areAlike(one: string, other: string): Promise<boolean> {
  try {
    const [left, right] = await Promise.all([stat(one), stat(other)]);
    return left.size === right.size && (await hashOf(one)) === (await hashOf(other));
  } catch {
    return false;
  }
}

async function hashOf(path: string): Promise<string> {
  const hash = createHash('sha256');
  for await (const piece of createReadStream(path, { highWaterMark: 1 << 20 })) hash.update(piece as Buffer);
  return hash.digest('hex');
}

async function freeBytesOf(folder: string): Promise<number> {
  try {
    const facts = await statfs(folder);
    return facts.bavail * facts.bsize;
  } catch {
    return Number.POSITIVE_INFINITY;
  }
}
