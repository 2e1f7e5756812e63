import { copyFile, link, mkdir, open, stat, statfs, writeFile } from 'node:fs/promises';
import { basename, extname, join, resolve } from 'node:path';
import { PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import { targetFault, writeWhole } from '../media/whole-file.ts';
import { editListOf, type MadeList, soundFiles } from './edit-list-file.ts';
import { type MixedSession, readMixedSession, type SeenTake, takesSeen } from './session-pictures.ts';
import { spanOf, type Trim } from './trim.ts';

export interface GatherOptions {
  /** The folder that will hold everything; made where it is not there. */
  readonly folder: string;
  readonly kind: 'otio' | 'edl';
  readonly trim: Trim | undefined;
  /** Files of the same disk are linked instead of copied: no room is taken, and whoever changes one changes both. */
  readonly links: boolean;
  readonly signal: AbortSignal;
  readonly onProgress: (fraction: number) => void;
}

/** What will lie in the folder, before a byte is written. */
export interface GatherPlan {
  readonly folder: string;
  /** Name of the list in the folder. */
  readonly list: string;
  readonly files: readonly { readonly from: string; readonly to: string; readonly sizeBytes: number }[];
  readonly sizeBytes: number;
  /** Free on the folder's disk; null where nobody tells. */
  readonly freeBytes: number | null;
}

export interface GatherReport extends GatherPlan {
  readonly format: 'partsong-gathered';
  readonly version: 1;
  /** Of the files, how many were linked. */
  readonly linked: number;
  readonly clips: number;
  readonly lengthSec: number;
  readonly notes: readonly string[];
}

/** A disk that is full to its last byte serves nobody. */
const SPARE_BYTES = 20e6;

/** Gathers a session's folder with a mix in it; see gatherMixed. */
export async function gatherSession(
  session: string,
  options: GatherOptions,
  onPlan: (plan: GatherPlan) => void,
): Promise<GatherReport> {
  const mixed = await readMixedSession(session, options.signal);
  return gatherMixed(mixed, options, onPlan);
}

/**
 * Copies the clips that are seen, the stems and the mix into one folder, and an edit list beside them that names them by
 * where they lie from it, so that the folder can go to another computer. Nothing is moved or changed; each copy is whole
 * and as long as its source, or not there. `onPlan`: what will be done, before a byte is written.
 * Throws PartsongError 'target-full' where the disk is too small, CancelledError.
 */
export async function gatherMixed(
  mixed: MixedSession,
  options: GatherOptions,
  onPlan: (plan: GatherPlan) => void,
): Promise<GatherReport> {
  const { signal, kind, links } = options;
  const takes = await takesSeen(mixed, signal);
  const folder = resolve(options.folder);
  await mkdir(folder, { recursive: true }).catch((error: unknown) => {
    throw targetFault(error, folder);
  });
  const plan = await planOf(mixed, takes, folder, kind);
  onPlan(plan);
  if (!links && plan.freeBytes !== null && plan.freeBytes < plan.sizeBytes + SPARE_BYTES) throw tooSmall(plan);
  const names = new Map(plan.files.map(({ from, to }) => [from, to]));
  const span = spanOf(options.trim, mixed);
  const made: MadeList = await editListOf({ mixed, takes, span, kind, nameOf: (file) => names.get(file)! });
  let done = 0;
  let linked = 0;
  for (const { from, to, sizeBytes } of plan.files) {
    throwIfCancelled(signal);
    const target = join(folder, ...to.split('/'));
    await mkdir(join(target, '..'), { recursive: true });
    const before = done;
    const told = (bytes: number): void => options.onProgress((before + bytes) / Math.max(1, plan.sizeBytes));
    if (links && (await linkedTo(from, target))) linked++;
    else await copied(from, target, sizeBytes, signal, told);
    done += sizeBytes;
    options.onProgress(done / Math.max(1, plan.sizeBytes));
  }
  await writeWhole(join(folder, plan.list), (path) => writeFile(path, made.text), signal);
  return { format: 'partsong-gathered', version: 1, ...plan, linked, ...made.facts };
}

async function planOf(
  mixed: MixedSession,
  takes: ReadonlyMap<string, SeenTake>,
  folder: string,
  kind: GatherOptions['kind'],
): Promise<GatherPlan> {
  const used = new Set<string>();
  const clips = [...new Set([...takes.values()].map(({ clipPath }) => clipPath))];
  const sounds = (await soundFiles(mixed, kind)).map(({ path }) => path);
  const place = async (from: string, within: string): Promise<GatherPlan['files'][number]> => {
    const { size } = await stat(from);
    return { from, to: freeName(within, basename(from), used), sizeBytes: size };
  };
  const files: GatherPlan['files'][number][] = [];
  for (const clip of clips) files.push(await place(clip, 'clips'));
  for (const sound of sounds) files.push(await place(sound, 'sound'));
  const disk = await statfs(folder).catch(() => undefined);
  const title = mixed.session.title.replace(/[\\/:*?"<>|\p{Cc}]/gu, ' ').trim();
  return {
    folder,
    list: `${title === '' ? 'clips' : title}.${kind}`,
    files,
    sizeBytes: files.reduce((sum, { sizeBytes }) => sum + sizeBytes, 0),
    freeBytes: disk === undefined ? null : disk.bavail * disk.bsize,
  };
}

/** Clips of several folders may have one name; systems do not all tell cases and accents apart. */
function freeName(within: string, name: string, used: Set<string>): string {
  const ending = extname(name);
  const stem = name.slice(0, name.length - ending.length);
  for (let count = 1; ; count++) {
    const tried = `${within}/${count === 1 ? name : `${stem} ${count}${ending}`}`;
    const key = tried.normalize('NFC').toLowerCase();
    if (used.has(key)) continue;
    used.add(key);
    return tried;
  }
}

async function linkedTo(from: string, target: string): Promise<boolean> {
  if (await isSame(from, target)) return true;
  return link(from, target).then(
    () => true,
    // Another disk, one without links, or a file of that name: it is copied.
    () => false,
  );
}

async function isSame(from: string, target: string): Promise<boolean> {
  const [one, other] = await Promise.all([from, target].map((path) => stat(path).catch(() => undefined)));
  return one !== undefined && other !== undefined && one.ino === other.ino && one.dev === other.dev;
}

/** Files up to this size are copied in one step, which file systems can do without reading them. */
const ONE_STEP_BYTES = 64e6;
const PIECE_BYTES = 8e6;

async function copied(
  from: string,
  target: string,
  sizeBytes: number,
  signal: AbortSignal,
  onBytes: (bytes: number) => void,
): Promise<void> {
  if (await isSame(from, target)) return;
  await writeWhole(
    target,
    async (partialPath) => {
      if (sizeBytes <= ONE_STEP_BYTES) await copyFile(from, partialPath);
      else await copyPieces(from, partialPath, signal, onBytes);
      const { size } = await stat(partialPath);
      if (size === sizeBytes) return;
      throw new PartsongError(
        'target-unwritable',
        `The copy of ${from} is ${size} bytes long, and the clip ${sizeBytes}.`,
        'Check that nothing writes to the clip, and gather again.',
        from,
      );
    },
    signal,
  );
}

async function copyPieces(
  from: string,
  to: string,
  signal: AbortSignal,
  onBytes: (bytes: number) => void,
): Promise<void> {
  const source = await open(from, 'r');
  const target = await open(to, 'w');
  try {
    const piece = Buffer.allocUnsafe(PIECE_BYTES);
    for (let at = 0; ; ) {
      throwIfCancelled(signal);
      const { bytesRead } = await source.read(piece, 0, piece.length, at);
      if (bytesRead === 0) return;
      await target.write(piece, 0, bytesRead, at);
      at += bytesRead;
      onBytes(at);
    }
  } finally {
    await source.close();
    await target.close();
  }
}

function tooSmall({ folder, sizeBytes, freeBytes }: GatherPlan): PartsongError {
  return new PartsongError(
    'target-full',
    `Gathering needs ${megabytes(sizeBytes)} on the disk of ${folder}, and ${megabytes(freeBytes ?? 0)} are free.`,
    'Make room, or choose a folder on another disk; on the same disk as the clips, links take no room (--link).',
    folder,
  );
}

function megabytes(bytes: number): string {
  return `${Math.ceil(bytes / 1e6)} MB`;
}
