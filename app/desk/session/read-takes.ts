import { basename, resolve } from 'node:path';
import type { ClipRef, Session, Take } from '../../../core/session/schema.ts';
import { PartsongError, throwIfCancelled } from '../../../core/signal/fault.ts';
import { cutParts } from '../cut-parts.ts';
import type { Desk } from '../desk.ts';
import { identifyClip } from '../missing-clips.ts';
import { countOf } from '../render-mix.ts';
import { type TakenIn, takeInClips } from '../take-in.ts';
import { type Running, runs } from './session-work.ts';

/** Takes of a session whose sound lies in the cache, by take id. */
export type TakesRead = ReadonlyMap<string, TakenIn>;

/**
 * Reads the clips of takes, each once, and cuts those that are parts. What was read before comes from the session's cache.
 * Throws PartsongError 'file-missing' for clips that are not there or are others now (the first by name, and how many more), and
 * as `takeInClips` does.
 */
export async function readTakes(takes: readonly Take[], desk: Desk, running: Running): Promise<TakesRead> {
  await refuseMissing(
    takes.map(({ clip }) => clip),
    desk,
    running.signal,
  );
  const { cache, pool } = desk;
  const fileOf = (take: Take): string => desk.fullPath(take.clip.path);
  const files = [...new Set(takes.map(fileOf))];
  const clips = await takeInClips(files, cache, pool, runs(running, `Listening to ${countOf(takes.length)}`));
  const byFile = new Map(files.map((file, index) => [file, clips[index]!]));
  const cut = await cutParts(
    takes.map((take) => ({ clip: byFile.get(fileOf(take))!, part: take.part })),
    cache,
    pool,
    { signal: running.signal },
  );
  return new Map(takes.map((take, index) => [take.id, cut[index]!]));
}

/** The guide of a session; undefined where it has none. Throws PartsongError as `readTakes` does. */
export async function readGuide({ guide }: Session, desk: Desk, running: Running): Promise<TakenIn | undefined> {
  if (guide === null) return undefined;
  await refuseMissing([guide.clip], desk, running.signal);
  const file = desk.fullPath(guide.clip.path);
  const [taken] = await takeInClips([file], desk.cache, desk.pool, runs(running, 'Listening to the guide'));
  return taken;
}

/** Throws PartsongError 'file-missing' where clips are not where the session has them, or are not what they were. */
async function refuseMissing(clips: readonly ClipRef[], desk: Desk, signal: AbortSignal): Promise<void> {
  const wrong: { readonly file: string; readonly fault: PartsongError }[] = [];
  const unique = new Map(clips.map((clip) => [desk.fullPath(clip.path), clip]));
  for (const [file, clip] of unique) {
    throwIfCancelled(signal);
    const fault = await faultOf(file, clip);
    if (fault !== undefined) wrong.push({ file, fault });
  }
  const [first, ...more] = wrong;
  if (first === undefined) return;
  const others = more.length === 0 ? '' : ` ${more.length} more ${more.length === 1 ? 'is' : 'are'} not there either.`;
  throw new PartsongError(
    first.fault.code,
    `${first.fault.message}${others}`,
    'Put the clips back, or let "partsong takes SESSION --find FOLDER" look for them.',
    first.file,
  );
}

async function faultOf(file: string, clip: ClipRef): Promise<PartsongError | undefined> {
  try {
    const { fingerprint } = await identifyClip(file);
    if (fingerprint === clip.fingerprint) return undefined;
  } catch (error) {
    if (error instanceof PartsongError) return error;
    throw error;
  }
  const message = `${basename(file)} at ${resolve(file)} is another clip than the one the session knows.`;
  return new PartsongError('file-missing', message, '', file);
}
