import { existsSync } from 'node:fs';
import { probe } from '../media/probe.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { TakeInResult } from '../work/tasks/take-in.ts';
import { Cache } from './cache.ts';
import { fingerprint } from './fingerprint.ts';
import { STEP_VERSION } from './steps.ts';

/** A clip whose sound lies in the cache. */
export interface TakenIn extends TakeInResult {
  readonly file: string;
  readonly sizeBytes: number;
  readonly fingerprint: string;
  readonly key: string;
  readonly soundPath: string;
}

/**
 * Takes clips in: each is decoded once into the cache, several at a time; those already there are not read again. Faults
 * are those of `probe` and `decode`, and 'digital-silence' | 'too-short'.
 */
export async function takeInClips(
  files: readonly string[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<TakenIn[]> {
  const clips = await Promise.all(files.map((file) => identify(file, cache)));
  const fresh = clips.filter((clip) => !isCached(clip, cache));
  const results = await pool.runAll(
    'takeIn',
    fresh.map((clip) => ({ file: clip.file, soundPath: clip.soundPath, tracePath: `${clip.soundPath}.trace` })),
    options,
  );
  fresh.forEach((clip, index) => {
    cache.keep(clip.key, results[index]);
  });
  return clips.map((clip) => ({ ...cache.record<TakeInResult>(clip.key)!, ...clip }));
}

interface Identified {
  readonly file: string;
  readonly sizeBytes: number;
  readonly fingerprint: string;
  readonly key: string;
  readonly soundPath: string;
}

async function identify(file: string, cache: Cache): Promise<Identified> {
  let known: { sizeBytes: number; fingerprint: string };
  try {
    known = await fingerprint(file);
  } catch (error) {
    // The probe has the sentence for a clip that is missing or may not be read.
    await probe(file);
    throw error;
  }
  const key = Cache.keyOf('takeIn', STEP_VERSION.takeIn, known.fingerprint);
  return { file, ...known, key, soundPath: cache.soundPath(key) };
}

function isCached(clip: Identified, cache: Cache): boolean {
  return cache.record(clip.key) !== undefined && existsSync(clip.soundPath) && existsSync(`${clip.soundPath}.trace`);
}
