import { existsSync } from 'node:fs';
import { resolve } from 'node:path';
import { sizeOfClip } from '../media/clip-faults.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { TakeHeard } from '../work/tasks/check-take.ts';
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
  readonly tracePath: string;
  /** Of a take that is a part of its clip: the whole clip, and where the part lies in it; absent for a whole clip. */
  readonly partOf?: { readonly clip: TakenIn; readonly fromFrame: number; readonly toFrame: number };
}

/**
 * Takes clips in: each is decoded once into the cache, several at a time; those already there are not read again. Faults
 * are those of `probe` and `decode`, and 'digital-silence' | 'too-short'.
 */
export async function takeInClips(
  files: readonly string[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions & {
    /** Whether traces for line-up and waveforms are wanted; true when absent. */
    readonly traced?: boolean;
  } = {},
): Promise<TakenIn[]> {
  const traced = options.traced ?? true;
  const clips = withOwnKeys(await Promise.all(files.map((file) => identify(file, traced))), cache);
  const fresh = clips.filter((clip) => !isCached(clip, cache, traced));
  const results = await pool.runAll(
    'takeIn',
    fresh.map(({ file, soundPath, tracePath }) => ({ file, soundPath, ...(traced ? { tracePath } : {}) })),
    options,
  );
  fresh.forEach((clip, index) => {
    cache.keep(clip.key, results[index]);
  });
  return clips.map((clip) => {
    const record = cache.record<TakeInResult>(clip.key)!;
    return { ...clip, ...record, soundPath: soundPathOf(clip, record) };
  });
}

/** What line-up heard of a take, as tasks ask for it; null where it was taken in without a trace. */
export function heardOf({ tracePath, trace }: Pick<TakenIn, 'tracePath' | 'trace'>): TakeHeard | null {
  return trace === null ? null : { tracePath, trace };
}

/** A clip as its file tells it, and the key under which its sound is kept. */
export interface Known {
  readonly file: string;
  readonly sizeBytes: number;
  readonly fingerprint: string;
  readonly key: string;
}

interface Identified extends Known {
  readonly soundPath: string;
  readonly tracePath: string;
}

/** Looks which clip a file is. Throws PartsongError 'file-missing' | 'file-empty' | 'file-unreadable'. */
export async function identify(file: string, traced: boolean): Promise<Known> {
  // First of all: opening a pipe would wait for ever, and this has the sentence for a clip that is missing.
  await sizeOfClip(file);
  const { sizeBytes, changedMs, ...known } = await fingerprint(file);
  // The fingerprint reads three pieces only; the time of change tells of an edit between them.
  const key = Cache.keyOf('takeIn', STEP_VERSION.takeIn, known.fingerprint, changedMs, traced);
  return { file, sizeBytes, ...known, key };
}

/** Two copies of one clip get keys of their own, so that two workers never write one file. */
function withOwnKeys(clips: readonly Known[], cache: Cache): Identified[] {
  const seen = new Map<string, number>();
  return clips.map((clip) => {
    const before = seen.get(clip.key) ?? 0;
    seen.set(clip.key, before + 1);
    const key = before === 0 ? clip.key : Cache.keyOf('copy', before, clip.key);
    const soundPath = cache.soundPath(key);
    return { ...clip, key, soundPath, tracePath: `${soundPath}.trace` };
  });
}

/** A clip that was taken in before, with its trace; undefined when it was not. */
export function takenBefore(known: Known, cache: Cache): TakenIn | undefined {
  const soundPath = cache.soundPath(known.key);
  const clip = { ...known, soundPath, tracePath: `${soundPath}.trace` };
  if (!isCached(clip, cache, true)) return undefined;
  const record = cache.record<TakeInResult>(known.key)!;
  return { ...clip, ...record, soundPath: soundPathOf(clip, record) };
}

function isCached(clip: Identified, cache: Cache, traced: boolean): boolean {
  const record = cache.record<TakeInResult>(clip.key);
  return record !== undefined && existsSync(soundPathOf(clip, record)) && (!traced || existsSync(clip.tracePath));
}

/** Where a sound lies: the clip itself, or the cache, whose folder may have been moved since the record was kept. */
function soundPathOf(clip: Identified, record: TakeInResult): string {
  return record.soundPath.endsWith('.f32') ? clip.soundPath : resolve(clip.file);
}
