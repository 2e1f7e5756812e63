import { existsSync } from 'node:fs';
import { stat } from 'node:fs/promises';
import { basename, resolve } from 'node:path';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { RunOptions } from '../../work/pool.ts';
import { Desk } from '../desk.ts';
import { COMMAND_LINE } from '../lock.ts';
import { SESSION_NAME } from '../session-store.ts';
import { workFault } from '../work-fault.ts';
import { Draft } from './draft.ts';

/** How a command is to be stopped, and how it tells how far it is. */
export interface Running {
  readonly signal: AbortSignal;
  /** Called at each step with its name; the function it gives takes fractions 0 to 1. */
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** For one step of work in the workers. */
export function runs({ signal, onStep }: Running, step: string): RunOptions {
  return { signal, onProgress: onStep(step) };
}

/** Whether a path names a session: a folder, or a session.json. */
export async function isSessionPath(path: string): Promise<boolean> {
  const facts = await stat(path).catch(() => undefined);
  if (facts?.isDirectory()) return true;
  return facts?.isFile() === true && basename(resolve(path)) === SESSION_NAME;
}

/**
 * The session that stands first among what a command was given, and the clips behind it. Throws PartsongError 'bad-option' for a
 * second one, 'file-missing' for what is not there.
 */
export async function sessionAmong(
  paths: readonly string[],
): Promise<{ readonly session: string | undefined; readonly clips: readonly string[] }> {
  for (const path of paths) {
    if (existsSync(path)) continue;
    throw new PartsongError('file-missing', `${path} is not there.`, 'Check its name and folder.', path);
  }
  const are = await Promise.all(paths.map(isSessionPath));
  const at = are.indexOf(true);
  if (at < 0) return { session: undefined, clips: paths };
  if (are.lastIndexOf(true) !== at || at > 0) {
    const other = paths[are.lastIndexOf(true)]!;
    throw new PartsongError(
      'bad-option',
      at > 0 ? `The session ${other} stands behind clips.` : `Two folders are named; ${other} is the second.`,
      'Name one session first, then the clips that are to come into it.',
      other,
    );
  }
  return { session: paths[0], clips: paths.slice(1) };
}

/**
 * Opens a session for a command, holds it while the command works, and puts into it what the command decided once it has ended
 * well. Throws PartsongError as opening a session does ('session-open', 'session-newer' ...).
 */
export async function withSession<Value>(
  path: string,
  work: (draft: Draft) => Promise<Value>,
): Promise<{ readonly value: Value; readonly notes: readonly string[] }> {
  const desk = await Desk.open(path, { by: COMMAND_LINE });
  let kept = false;
  try {
    const draft = new Draft(desk);
    const value = await work(draft);
    draft.keep();
    await desk.save();
    kept = true;
    return { value, notes: desk.recovered === null ? [] : [desk.recovered] };
  } catch (error) {
    throw workFault(error, desk.folder);
  } finally {
    await desk.close({ evenIfUnsaved: !kept });
  }
}
