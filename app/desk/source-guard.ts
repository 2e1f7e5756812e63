import { stat } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { PartsongError } from '../../core/signal/fault.ts';
import { targetFault } from '../media/whole-file.ts';

/**
 * Refuses, before any work is done, targets that are one of the sources (under whatever name: a link, another case), that
 * are one another, or whose folder is not there. Throws PartsongError 'bad-option' | 'target-unwritable'.
 */
export async function refuseTargets(targets: readonly string[], sources: readonly string[]): Promise<void> {
  await refuseSources(targets, sources);
  const names = targets.map((target) => resolve(target).normalize('NFC').toLowerCase());
  if (new Set(names).size < names.length) {
    throw new PartsongError(
      'bad-option',
      `${targets.at(-1)} is named for two results.`,
      'Give each result a name of its own.',
      targets.at(-1),
    );
  }
  for (const target of targets) {
    await stat(dirname(resolve(target))).catch((error: unknown) => {
      throw targetFault(error, target);
    });
  }
}

/** Throws PartsongError 'bad-option' when a target is the same file as a source: a clip is never written over. */
export async function refuseSources(targets: readonly string[], sources: readonly string[]): Promise<void> {
  const origins = new Map<string, string>();
  for (const source of sources) {
    const id = await identityOf(source);
    if (id !== undefined) origins.set(id, source);
  }
  for (const target of targets) {
    const id = await identityOf(target);
    const source = id === undefined ? undefined : origins.get(id);
    if (source === undefined) continue;
    throw new PartsongError(
      'bad-option',
      `The result would take the place of the clip ${source}; clips are never written over.`,
      'Choose another name or folder for the result.',
      target,
    );
  }
}

/** What tells a file from every other on this computer; undefined where there is none. */
async function identityOf(path: string): Promise<string | undefined> {
  const facts = await stat(path, { bigint: true }).catch(() => undefined);
  return facts === undefined ? undefined : `${facts.dev}:${facts.ino}`;
}
