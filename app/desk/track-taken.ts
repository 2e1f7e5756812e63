import type { PitchRow } from '../../core/pitch/pitch-span.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import { SoundFile } from '../work/sound-file.ts';
import type { TrackedPitch } from '../work/tasks/track-pitch.ts';
import { Cache } from './cache.ts';
import type { KeyedSound } from './measure-taken.ts';
import { STEP_VERSION } from './steps.ts';

/** The key under which a sound's pitch is kept. */
export function pitchKey(soundKey: string): string {
  return Cache.keyOf('pitch', STEP_VERSION.pitch, soundKey);
}

/** Follows the pitch of sounds, several at a time; those followed before come from the cache. */
export async function trackTaken(
  sounds: readonly KeyedSound[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<TrackedPitch[]> {
  const fresh = sounds.filter((sound) => cache.record(pitchKey(sound.key)) === undefined);
  const results = await pool.runAll(
    'trackPitch',
    fresh.map(({ key, soundPath, rateHz }) => ({ soundPath, rateHz, curvePath: cache.soundPath(pitchKey(key)) })),
    options,
  );
  fresh.forEach((sound, index) => {
    cache.keep(pitchKey(sound.key), results[index]);
  });
  return sounds.map((sound) => cache.record<TrackedPitch>(pitchKey(sound.key))!);
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
