import { randomBytes } from 'node:crypto';
import { open, rename, rm, stat } from 'node:fs/promises';
import { dirname, extname, join } from 'node:path';
import { CancelledError, PartsongError } from '../../core/signal/fault.ts';

/** Room that FFmpeg and file systems surely grant a file's ending; a longer "ending" is part of the name. */
const LONGEST_ENDING = 12;

/**
 * Writes a file so that at its own name it is either whole or not there (or still the old one).
 *
 * `write` is handed the path of a partial file in the same folder, hidden and with the target's ending, and writes
 * there by any means; when it has finished, the file is flushed to the disk and takes the target's name in one step.
 * When `write` fails or `signal` is raised, the partial file is removed and the target is left as it was.
 *
 * Gives what `write` gave. Throws CancelledError, or PartsongError 'target-full' | 'target-unwritable' where the fault
 * lies with the target's place; any other error of `write` passes unchanged.
 */
export async function writeWhole<T>(
  target: string,
  write: (partialPath: string) => Promise<T>,
  signal?: AbortSignal,
): Promise<T> {
  if (signal?.aborted) throw new CancelledError();
  await refuseFolder(target);
  const partialPath = partialPathFor(target);
  let whole = false;
  try {
    await reserve(partialPath);
    const result = await write(partialPath);
    if (signal?.aborted) throw new CancelledError();
    await flushToDisk(partialPath);
    await rename(partialPath, target);
    whole = true;
    await flushFolder(dirname(target));
    return result;
  } catch (error) {
    throw targetFault(error, target, partialPath);
  } finally {
    if (!whole) await rm(partialPath, { force: true });
  }
}

/** The names of partial files; a killed process leaves one behind. */
export const PARTIAL_NAME = /^\.partsong-[0-9a-f]{12}(\.\w+)?$/;

/** A fresh hidden name beside the target, with the target's ending. */
function partialPathFor(target: string): string {
  const ending = extname(target);
  const kept = ending.length <= LONGEST_ENDING ? ending : '';
  return join(dirname(target), `.partsong-${randomBytes(6).toString('hex')}${kept}`);
}

/** Takes the name at once, so that an unwritable folder is told before any work is done. */
async function reserve(partialPath: string): Promise<void> {
  const file = await open(partialPath, 'wx');
  await file.close();
}

async function refuseFolder(target: string): Promise<void> {
  const facts = await stat(target).catch(() => undefined);
  if (facts?.isDirectory()) {
    throw new PartsongError(
      'target-unwritable',
      `${target} is a folder, so no file of that name can be written.`,
      'Give the file another name.',
      target,
    );
  }
}

async function flushToDisk(path: string): Promise<void> {
  const file = await open(path, 'r+');
  try {
    await file.sync();
  } finally {
    await file.close();
  }
}

/** Some systems (Windows, network shares) cannot flush a folder; the file itself is safe by then. */
async function flushFolder(folder: string): Promise<void> {
  const handle = await open(folder, 'r').catch(() => undefined);
  if (handle === undefined) return;
  await handle.sync().catch(() => undefined);
  await handle.close();
}

/** The system's error code, where there is one. */
export function systemCode(error: unknown): string | undefined {
  if (typeof error !== 'object' || error === null || !('code' in error)) return undefined;
  return typeof error.code === 'string' ? error.code : undefined;
}

/**
 * Turns a system error met while writing `target` into its PartsongError; anything else is given back as it is.
 * `partialPath`: where given, only errors about this path or its folder, or about no path at all, count as the target's.
 */
export function targetFault(error: unknown, target: string, partialPath?: string): unknown {
  if (error instanceof PartsongError || error instanceof CancelledError) return error;
  const code = systemCode(error);
  if (code === undefined || !concerns(error, target, partialPath)) return error;
  switch (code) {
    case 'ENOSPC':
    case 'EDQUOT':
    case 'EFBIG':
      return targetFullFault(target, error);
    case 'ENOENT':
    case 'ENOTDIR':
      return unwritable(
        target,
        error,
        `the folder ${dirname(target)} is not there`,
        'Make the folder, or choose another.',
      );
    case 'EROFS':
      return unwritable(target, error, 'the disk can only be read', 'Choose a folder on another disk.');
    case 'EACCES':
    case 'EPERM':
      return unwritable(
        target,
        error,
        `writing in ${dirname(target)} is not allowed`,
        'Allow writing there, or choose another folder.',
      );
    case 'ENAMETOOLONG':
      return unwritable(target, error, 'the name is too long', 'Choose a shorter name.');
    case 'EISDIR':
    case 'EEXIST':
    case 'EBUSY':
    case 'EIO':
      return unwritable(target, error, `the system refused it (${code})`, 'Choose another name or folder.');
    default:
      return error;
  }
}

/** The fault of a disk without room. */
export function targetFullFault(target: string, cause?: unknown): PartsongError {
  return new PartsongError(
    'target-full',
    `The disk has no room left for ${target}.`,
    'Free some space, or choose a folder on another disk.',
    target,
    { cause },
  );
}

function unwritable(target: string, cause: unknown, why: string, nextStep: string): PartsongError {
  const message = `${target} cannot be written: ${why}.`;
  return new PartsongError('target-unwritable', message, nextStep, target, { cause });
}

function concerns(error: unknown, target: string, partialPath: string | undefined): boolean {
  if (partialPath === undefined) return true;
  if (typeof error !== 'object' || error === null || !('path' in error)) return true;
  return error.path === partialPath || error.path === target || error.path === dirname(target);
}
