import type { Dirent } from 'node:fs';
import { readdir, stat } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import type { Edit } from '../../core/session/edit.ts';
import type { ClipRef, Session } from '../../core/session/schema.ts';
import { PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import { openFault, sizeOfClip } from '../media/clip-faults.ts';
import { systemCode } from '../media/whole-file.ts';
import { fingerprint } from './fingerprint.ts';

/** The guide's clip, where clips are named by their takes. */
export const GUIDE_ID = 'guide';
/** Folders within folders that a search enters. */
const DEEPEST = 12;
/** Files and folders that a search looks at before it gives up: a whole disk would take too long. */
const MOST_ENTRIES = 500_000;
/** Share of the progress that the walk through the folders is given; the rest is the comparing. */
const WALK_SHARE = 0.5;

/** 'other': a file is there, but another's content; 'unreadable': it may not or cannot be read. */
export type ClipState = 'there' | 'missing' | 'other' | 'unreadable';

export interface ClipWhere {
  /** The take whose clip it is; GUIDE_ID for the guide's. */
  readonly takeId: string;
  readonly clip: ClipRef;
  /** Full path at which it should be. */
  readonly file: string;
  readonly state: ClipState;
}

/** A clip found again; `clip.path` is its full path. */
export interface ClipFound {
  readonly takeId: string;
  readonly file: string;
  readonly clip: ClipRef;
}

export interface ClipSearch {
  readonly found: readonly ClipFound[];
  /** Takes whose clips were not found. */
  readonly missing: readonly string[];
  readonly filesLooked: number;
  /** What was left out, sentences for people. */
  readonly notes: readonly string[];
}

export interface SearchOptions {
  readonly signal?: AbortSignal | undefined;
  /** Fractions 0 to 1, never less than before. */
  readonly onProgress?: ((fraction: number) => void) | undefined;
}

/**
 * Where each clip of a session is and whether it is still the same by content; the guide's first. Only reads. Throws
 * CancelledError.
 */
export async function clipsWhere(session: Session, folder: string, options: SearchOptions = {}): Promise<ClipWhere[]> {
  const clips = session.takes.map(({ id, clip }) => ({ takeId: id, clip }));
  if (session.guide !== null) clips.unshift({ takeId: GUIDE_ID, clip: session.guide.clip });
  const where: ClipWhere[] = [];
  for (const [index, { takeId, clip }] of clips.entries()) {
    throwIfCancelled(options.signal);
    const file = resolve(folder, clip.path);
    where.push({ takeId, clip, file, state: await stateOf(file, clip) });
    options.onProgress?.((index + 1) / clips.length);
  }
  return where;
}

/** The clips of a session that are not where they were, or not what they were. Only reads. Throws CancelledError. */
export async function missingClips(
  session: Session,
  folder: string,
  options: SearchOptions = {},
): Promise<ClipWhere[]> {
  return (await clipsWhere(session, folder, options)).filter(({ state }) => state !== 'there');
}

/**
 * What knows a clip again. Only reads. Throws PartsongError 'file-missing' | 'file-empty' | 'file-unreadable'.
 */
export async function identifyClip(file: string): Promise<{ sizeBytes: number; fingerprint: string }> {
  await sizeOfClip(file);
  try {
    const { sizeBytes, fingerprint: print } = await fingerprint(file);
    return { sizeBytes, fingerprint: print };
  } catch (error) {
    throw openFault(file, error);
  }
}

/**
 * Looks for clips in a folder and those in it, by content, whatever their names are now: files of the right size are
 * compared by fingerprint. Of several copies one with the old name is preferred, else the one highest up. Links to
 * folders are followed, each folder once. Only reads. Throws PartsongError 'file-missing' | 'file-unreadable' (the
 * folder), or CancelledError.
 */
export async function searchClips(
  folder: string,
  wanted: readonly ClipWhere[],
  options: SearchOptions = {},
): Promise<ClipSearch> {
  const search = new Search(wanted, options);
  await search.walk(resolve(folder));
  return search.compare();
}

/** The edit that puts found clips right; one step of undo. `keptPath`: a path as the session keeps it. */
export function relinkEdit(found: readonly ClipFound[], keptPath: (file: string) => string): Edit {
  const edits = found.map(({ takeId, file, clip }): Edit => {
    const kept: ClipRef = { ...clip, path: keptPath(file) };
    return takeId === GUIDE_ID ? { kind: 'setGuide', clip: kept } : { kind: 'relinkTake', takeId, clip: kept };
  });
  const [first] = edits;
  if (edits.length === 1 && first !== undefined) return first;
  return { kind: 'together', label: findLabel(found), edits };
}

function findLabel(found: readonly ClipFound[]): string {
  const clips = new Set(found.map(({ file }) => file)).size;
  return clips === 1 ? 'find a clip again' : `find ${clips} clips again`;
}

async function stateOf(file: string, clip: ClipRef): Promise<ClipState> {
  try {
    if ((await sizeOfClip(file)) !== clip.sizeBytes) return 'other';
    return (await identifyClip(file)).fingerprint === clip.fingerprint ? 'there' : 'other';
  } catch (error) {
    if (!(error instanceof PartsongError)) throw error;
    if (error.code === 'file-missing') return 'missing';
    return error.code === 'file-empty' ? 'other' : 'unreadable';
  }
}

interface Candidate {
  readonly file: string;
  readonly depth: number;
}

/** One search under way. */
class Search {
  readonly #wanted: readonly ClipWhere[];
  readonly #options: SearchOptions;
  readonly #sizes: ReadonlySet<number>;
  readonly #bySize = new Map<number, Candidate[]>();
  readonly #seen = new Set<string>();
  #entries = 0;
  #files = 0;
  #closedFolders = 0;
  #tooDeep = 0;
  #fraction = 0;

  constructor(wanted: readonly ClipWhere[], options: SearchOptions) {
    this.#wanted = wanted;
    this.#options = options;
    this.#sizes = new Set(wanted.map(({ clip }) => clip.sizeBytes));
  }

  /** Collects all files whose size is one of those wanted, level after level. */
  async walk(top: string): Promise<void> {
    let level = [top];
    for (let depth = 0; level.length > 0; depth++) {
      const next: string[] = [];
      for (const [index, folder] of level.entries()) {
        throwIfCancelled(this.#options.signal);
        if (this.#entries > MOST_ENTRIES) break;
        next.push(...(await this.#enter(folder, depth)));
        // Each level is worth half of what is left: how many there are is not known before.
        const passed = 1 - 2 ** -depth;
        this.#progress(WALK_SHARE * (passed + (2 ** -(depth + 1) * (index + 1)) / level.length));
      }
      if (depth >= DEEPEST) {
        this.#tooDeep += next.length;
        break;
      }
      level = next;
    }
  }

  /** Compares what was collected, and gives the result. */
  async compare(): Promise<ClipSearch> {
    const found: ClipFound[] = [];
    const missing: string[] = [];
    const prints = new Map<string, string | undefined>();
    for (const [index, one] of this.#wanted.entries()) {
      const file = await this.#matchOf(one, prints);
      if (file === undefined) missing.push(one.takeId);
      else found.push({ takeId: one.takeId, file, clip: { ...one.clip, path: file } });
      this.#progress(WALK_SHARE + ((1 - WALK_SHARE) * (index + 1)) / this.#wanted.length);
    }
    this.#progress(1);
    return { found, missing, filesLooked: this.#files, notes: this.#allNotes() };
  }

  async #matchOf({ clip }: ClipWhere, prints: Map<string, string | undefined>): Promise<string | undefined> {
    const name = basename(clip.path).normalize('NFC').toLowerCase();
    const isNamesake = ({ file }: Candidate): boolean => basename(file).normalize('NFC').toLowerCase() === name;
    const inOrder = (this.#bySize.get(clip.sizeBytes) ?? []).toSorted(
      (one, other) => Number(isNamesake(other)) - Number(isNamesake(one)) || one.depth - other.depth,
    );
    for (const { file } of inOrder) {
      throwIfCancelled(this.#options.signal);
      if (!prints.has(file)) {
        prints.set(file, (await identifyClip(file).catch(() => undefined))?.fingerprint);
      }
      if (prints.get(file) === clip.fingerprint) return file;
    }
    return undefined;
  }

  /** Looks at the files of one folder; gives the folders in it. */
  async #enter(folder: string, depth: number): Promise<string[]> {
    let entries: Dirent[];
    try {
      const facts = await stat(folder, { bigint: true });
      const id = `${facts.dev}:${facts.ino}`;
      if (this.#seen.has(id)) return [];
      this.#seen.add(id);
      entries = await readdir(folder, { withFileTypes: true });
    } catch (error) {
      if (depth === 0) throw folderFault(folder, error);
      this.#closedFolders++;
      return [];
    }
    const folders: string[] = [];
    for (const entry of entries) {
      this.#entries++;
      const path = join(folder, entry.name);
      const kind = entry.isSymbolicLink() ? await kindOfLink(path) : entry;
      if (kind?.isDirectory()) folders.push(path);
      else if (kind?.isFile()) await this.#look(path, depth);
    }
    return folders;
  }

  async #look(file: string, depth: number): Promise<void> {
    this.#files++;
    const facts = await stat(file).catch(() => undefined);
    if (facts === undefined || !this.#sizes.has(facts.size)) return;
    const same = this.#bySize.get(facts.size);
    if (same === undefined) this.#bySize.set(facts.size, [{ file, depth }]);
    else same.push({ file, depth });
  }

  #allNotes(): string[] {
    const notes: string[] = [];
    if (this.#closedFolders > 0) {
      notes.push(
        `${this.#closedFolders} ${this.#closedFolders === 1 ? 'folder' : 'folders'} could not be looked into.`,
      );
    }
    if (this.#tooDeep > 0)
      notes.push(`Folders more than ${DEEPEST} deep were left out; choose one nearer to the clips.`);
    if (this.#entries > MOST_ENTRIES) {
      notes.push(`The search ended after ${MOST_ENTRIES} files; choose a folder nearer to the clips.`);
    }
    return notes;
  }

  #progress(fraction: number): void {
    this.#fraction = Math.max(this.#fraction, fraction);
    this.#options.onProgress?.(this.#fraction);
  }
}

async function kindOfLink(path: string): Promise<{ isDirectory(): boolean; isFile(): boolean } | undefined> {
  return stat(path).catch(() => undefined);
}

function folderFault(folder: string, cause: unknown): PartsongError {
  const isGone = ['ENOENT', 'ENOTDIR'].includes(systemCode(cause) ?? '');
  return new PartsongError(
    isGone ? 'file-missing' : 'file-unreadable',
    isGone ? `There is no folder ${folder}.` : `The folder ${folder} cannot be looked into (${systemCode(cause)}).`,
    'Choose another folder to search.',
    folder,
    { cause },
  );
}
