import type { PitchRow } from '../../core/pitch/pitch-span.ts';
import type { TrackedPitch } from '../../core/pitch/tracked-pitch.ts';
import { throwIfCancelled } from '../../core/signal/fault.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import { SoundFile } from '../work/sound-file.ts';
import { Cache } from './cache.ts';
import type { KeyedSound } from './measure-taken.ts';
import { STEP_VERSION } from './steps.ts';

/** The key under which a sound's pitch is kept. */
export function pitchKey(soundKey: string): string {
  return Cache.keyOf('pitch', STEP_VERSION.pitch, soundKey);
}

/** Sounds whose pitch is being followed, by cache and key: two wishes for one sound are one piece of work, and one writer. */
const underWay = new WeakMap<Cache, Map<string, Promise<unknown>>>();

/**
 * Follows the pitch of sounds, several at a time; those followed before come from the cache, and those that somebody else
 * follows now are waited for. Throws CancelledError.
 */
export async function trackTaken(
  sounds: readonly KeyedSound[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<TrackedPitch[]> {
  const busy = underWay.get(cache) ?? new Map<string, Promise<unknown>>();
  underWay.set(cache, busy);
  const isFresh = ({ key }: KeyedSound): boolean => cache.record(pitchKey(key)) === undefined;
  const unique = [...new Map(sounds.map((sound) => [sound.key, sound])).values()];
  let fresh = unique.filter(isFresh);
  while (fresh.length > 0) {
    const left = fresh.filter(({ key }) => busy.has(key));
    const others = left.flatMap(({ key }) => busy.get(key) ?? []);
    const own = fresh.filter(({ key }) => !busy.has(key));
    const work = follow(own, cache, pool, options);
    for (const { key } of own) busy.set(key, work);
    try {
      await work;
    } finally {
      for (const { key } of own) busy.delete(key);
    }
    await untilOver(others, options.signal);
    throwIfCancelled(options.signal);
    // Where the other was stopped, or failed, what it left undone is done here.
    fresh = left.filter(isFresh);
  }
  return sounds.map((sound) => cache.record<TrackedPitch>(pitchKey(sound.key))!);
}

async function follow(sounds: readonly KeyedSound[], cache: Cache, pool: WorkPool, options: RunOptions): Promise<void> {
  const results = await pool.runAll(
    'trackPitch',
    sounds.map(({ key, soundPath, rateHz }) => ({ soundPath, rateHz, curvePath: cache.soundPath(pitchKey(key)) })),
    options,
  );
  sounds.forEach((sound, index) => {
    cache.keep(pitchKey(sound.key), results[index]);
  });
}

/** Waits until work of others has ended, however it did, or until one's own is to stop. */
async function untilOver(work: readonly Promise<unknown>[], signal: AbortSignal | undefined): Promise<void> {
  if (work.length === 0 || signal?.aborted === true) return;
  const ended = Promise.allSettled(work);
  if (signal === undefined) {
    await ended;
    return;
  }
  let stop: () => void = () => undefined;
  const stopped = new Promise<void>((resolve) => {
    stop = resolve;
    signal.addEventListener('abort', stop);
  });
  await Promise.race([ended, stopped]);
  signal.removeEventListener('abort', stop);
}

/** The pitch curve of a sound that `trackTaken` has followed. */
export function pitchRow(sound: KeyedSound, tracked: TrackedPitch, cache: Cache): PitchRow {
  const { hopSec, firstSec, frames } = tracked;
  // The rate of a row of pitches is of no account: it is read by frames.
  const file = new SoundFile(cache.soundPath(pitchKey(sound.key)), 1 / hopSec);
  try {
    const values = new Float32Array(frames);
    file.read(0, values);
    return { hopSec, firstSec, hz: Float64Array.from(values) };
  } finally {
    file.close();
  }
}
