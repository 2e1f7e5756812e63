import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { TakeLoudness } from '../work/tasks/measure-take.ts';
import { Cache } from './cache.ts';
import { STEP_VERSION } from './steps.ts';

/** A sound of the cache: a take's own, or a cleaned one. */
export interface KeyedSound {
  /** Of the cache entry the sound belongs to. */
  readonly key: string;
  readonly soundPath: string;
  readonly rateHz: number;
}

/** The key under which a sound's loudness is kept. */
export function loudnessKey(soundKey: string): string {
  return Cache.keyOf('measure', STEP_VERSION.measure, soundKey);
}

/** Keeps a loudness that was measured with other things. */
export function keepLoudness(cache: Cache, soundKey: string, loudness: TakeLoudness): void {
  cache.keep(loudnessKey(soundKey), loudness);
}

/** Measures sounds, several at a time; those measured before come from the cache. */
export async function measureTaken(
  sounds: readonly KeyedSound[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<TakeLoudness[]> {
  const known = sounds.map(({ key }) => cache.record<TakeLoudness>(loudnessKey(key)));
  const fresh = sounds.filter((_, index) => known[index] === undefined);
  const results = await pool.runAll(
    'measureTake',
    fresh.map(({ soundPath, rateHz }) => ({ soundPath, rateHz })),
    options,
  );
  for (const [index, { key }] of fresh.entries()) keepLoudness(cache, key, results[index]!);
  return sounds.map((sound, index) => known[index] ?? results[fresh.indexOf(sound)]!);
}
