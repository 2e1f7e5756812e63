import { existsSync } from 'node:fs';
import { type FileHandle, mkdir, open, statfs } from 'node:fs/promises';
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
   * when the page breaks off, nothing stays. name: as safeClipName gave it. Throws PartsongError 'target-full' before the
   * first byte when the disk surely has no room, or when it fills up; 'target-unwritable' where writing is not possible;
   * and CutOffError when fewer bytes came than were announced.
   */
  async take(sessionFolder: string, name: string, sizeBytes: number, body: Readable): Promise<string> {
    const folder = join(sessionFolder, 'clips');
    await mkdir(folder, { recursive: true }).catch((error: unknown) => {
      throw targetFault(error, folder);
    });
    const path = this.#freePath(folder, name);
    this.#underway.add(path);
    try {
      if (sizeBytes > (await this.#freeBytes(folder))) throw targetFullFault(path);
      await writeWhole(path, (partial) => writeBody(partial, sizeBytes, body));
      return path;
    } finally {
      this.#underway.delete(path);
    }
  }

  #freePath(folder: string, name: string): string {
    const ending = extname(name);
    const bare = name.slice(0, name.length - ending.length);
    let path = join(folder, name);
    for (let n = 2; existsSync(path) || this.#underway.has(path); n++) path = join(folder, `${bare} (${n})${ending}`);
    return path;
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

async function freeBytesOf(folder: string): Promise<number> {
  try {
    const facts = await statfs(folder);
    return facts.bavail * facts.bsize;
  } catch {
    return Number.POSITIVE_INFINITY;
  }
}
