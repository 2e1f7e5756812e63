import { relative, resolve } from 'node:path';
import { PartsongError } from '../../core/signal/fault.ts';
import { systemCode, targetFault } from '../media/whole-file.ts';

/**
 * The fault of a system error met in a job whose results go into a folder: about a file elsewhere, it is a clip that can
 * no longer be read; else it is the target's. Anything that is no system error is given back as it is.
 */
export function workFault(error: unknown, folder: string): unknown {
  if (error instanceof PartsongError || systemCode(error) === undefined) return error;
  const path = error instanceof Error && 'path' in error && typeof error.path === 'string' ? error.path : undefined;
  if (path === undefined || !relative(folder, resolve(path)).startsWith('..')) return targetFault(error, folder);
  return new PartsongError(
    'file-unreadable',
    `${path} could not be read while the work went on.`,
    'Check that it is still there and that its disk is connected, then start again.',
    path,
    { cause: error },
  );
}
