import { createHash } from 'node:crypto';
import type { HeardTake, Played, PlayedAgainst } from '../../core/session/played-figures.ts';
import type { TuneFindings } from '../../core/session/tune-report.ts';
import type { TrackedVoice, TuneAgainst } from '../../core/session/voice-matcher.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import { Cache } from './cache.ts';
import { STEP_VERSION } from './steps.ts';

/** What was found, and the cache entry that keeps it. */
export interface Kept<Value> {
  readonly key: string;
  readonly value: Value;
}

/** How voices are in tune and in time, reckoned in a worker, or as it was reckoned before of the same notes, places and score. Throws CancelledError. */
export function keptTuning(
  voices: readonly TrackedVoice[],
  against: TuneAgainst,
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<Kept<TuneFindings>> {
  const { score, plan, referenceHz, guideReferenceHz, temperament, tonic } = against;
  // What else lies beside these in `against` shapes nothing.
  const shaping = { score, plan, referenceHz, guideReferenceHz: guideReferenceHz ?? null, temperament, tonic };
  const key = Cache.keyOf('tuning', STEP_VERSION.tuning, shaping, voices.map(contentOf));
  return kept(key, cache, () => pool.run('tuneVoices', { voices, against: shaping }, options));
}

/** How takes were played, in the same way. Throws CancelledError. */
export function keptFigures(
  takes: readonly HeardTake[],
  { score, plan }: PlayedAgainst,
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<Kept<Played[]>> {
  const heard = takes.map(({ voice, track }) => [voice, contentOf(track)]);
  const key = Cache.keyOf('played', STEP_VERSION.tuning, STEP_VERSION.played, { score, plan }, heard);
  return kept(key, cache, () => pool.run('playFigures', { takes, against: { score, plan } }, options));
}

async function kept<Value>(key: string, cache: Cache, reckon: () => Promise<Value>): Promise<Kept<Value>> {
  const known = cache.record<Value>(key);
  if (known !== undefined) return { key, value: known };
  const value = await reckon();
  cache.keep(key, value);
  return { key, value };
}

/** All of a voice that shapes what is found of it. Its row goes in as a hash: as JSON a row of 10 min took longer than the whole key. */
function contentOf({ id, name, tracked, row, place }: TrackedVoice): unknown {
  const { hz, hopSec, firstSec } = row;
  const bytes = new Uint8Array(hz.buffer, hz.byteOffset, hz.byteLength);
  const rowHash = createHash('sha256').update(bytes).digest('hex');
  const { offsetSec, driftPpm, bends, uncertaintySec } = place ?? {};
  const clock = place === null ? null : { offsetSec, driftPpm, bends, uncertaintySec };
  return [id, name, tracked, rowHash, hopSec, firstSec, clock];
}
