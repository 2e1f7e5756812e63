import { randomUUID } from 'node:crypto';
import { mkdir, readFile, rename, rm, stat, writeFile } from 'node:fs/promises';
import { homedir, tmpdir } from 'node:os';
import { isAbsolute, join } from 'node:path';

/** An FFmpeg that answered once, and how its file looked then. */
interface Known {
  readonly path: string;
  readonly sizeBytes: number;
  /** Of the file and of what is told of it (its permission to run), ms since 1970. */
  readonly changedMs: number;
  readonly version: string;
}

/** More are forgotten, the oldest first. */
const MOST_KNOWN = 8;

/**
 * The user's folder for what can be had again: `partsong` in XDG_CACHE_HOME (XDG Base Directory Specification 0.8: where it is unset or
 * relative, in ~/.cache). Who has no home has it among the temporary files.
 */
export function userCacheFolder(): string {
  const told = process.env['XDG_CACHE_HOME'] ?? '';
  return join(isAbsolute(told) ? told : join(home(), '.cache'), 'partsong');
}

/** A user without an entry among the system's users, as in some containers, has none: asking for it throws. */
function home(): string {
  try {
    return homedir() || tmpdir();
  } catch {
    return tmpdir();
  }
}

/**
 * Which FFmpegs answered when they were asked for their version. Asking starts the program: 0.17 s of processor time with Debian's, whose
 * libraries are linked at each start, for every command and every worker. Where nothing can be kept, or what is kept cannot be read, it is asked.
 */
export class KnownFfmpegs {
  readonly #file: string;

  constructor(folder = userCacheFolder()) {
    this.#file = join(folder, 'ffmpeg.json');
  }

  /** The version of an FFmpeg that answered before and whose file has not changed since. */
  async versionOf(path: string): Promise<string | undefined> {
    const facts = await factsOf(path);
    const all = await this.#all();
    return all.find((one) => one.path === path && isSame(one, facts))?.version;
  }

  /** version: what it answered just now; undefined: it is no longer known. */
  async keep(path: string, version: string | undefined): Promise<void> {
    const facts = await factsOf(path);
    const others = (await this.#all()).filter((one) => one.path !== path);
    const all = version === undefined || facts === undefined ? others : [{ path, ...facts, version }, ...others];
    const partial = `${this.#file}.${randomUUID()}`;
    try {
      await mkdir(join(this.#file, '..'), { recursive: true });
      await writeFile(partial, JSON.stringify(all.slice(0, MOST_KNOWN)));
      await rename(partial, this.#file);
    } catch {
      // A folder that cannot be written to costs the next command 0.17 s and nothing else.
      await rm(partial, { force: true }).catch(() => undefined);
    }
  }

  async #all(): Promise<Known[]> {
    try {
      const kept: unknown = JSON.parse(await readFile(this.#file, 'utf8'));
      return Array.isArray(kept) ? kept.filter(isKnown) : [];
    } catch {
      return [];
    }
  }
}

type Facts = Pick<Known, 'sizeBytes' | 'changedMs'>;

async function factsOf(path: string): Promise<Facts | undefined> {
  const facts = await stat(path).catch(() => undefined);
  return facts && { sizeBytes: facts.size, changedMs: Math.max(facts.ctimeMs, facts.mtimeMs) };
}

function isSame(known: Known, facts: Facts | undefined): boolean {
  return known.sizeBytes === facts?.sizeBytes && known.changedMs === facts.changedMs;
}

function isKnown(value: unknown): value is Known {
  if (typeof value !== 'object' || value === null) return false;
  const { path, sizeBytes, changedMs, version } = value as Record<string, unknown>;
  const areWords = typeof path === 'string' && typeof version === 'string' && version !== '';
  return areWords && Number.isFinite(sizeBytes) && Number.isFinite(changedMs);
}
