import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { mendsAnything } from '../../../core/pitch/mend.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Take } from '../../../core/session/schema.ts';
import { WAVE_LEVEL_FRAMES } from '../../shell/contract/media.ts';
import type { DrawnWave } from '../../work/tasks/draw-wave.ts';
import type { TakeLoudness } from '../../work/tasks/measure-take.ts';
import { Cache } from '../cache.ts';
import { type CleanedTake, type CleanWish, cleanedBefore, cleanedKey, cleanTaken } from '../clean-taken.ts';
import { type KeyedSound, loudnessKey, measureTaken } from '../measure-taken.ts';
import { type MendedTake, mendedBefore, mendedKey, mendTaken } from '../mend-taken.ts';
import { expectedSilence } from '../placement.ts';
import { STEP_VERSION } from '../steps.ts';
import type { TakenIn } from '../take-in.ts';
import { type Bench, CALM_MS, use } from './bench.ts';
import type { Standing } from './ledger.ts';

/** A waveform pyramid in its file. */
export interface WaveFileOf extends DrawnWave {
  readonly path: string;
}

/** Asks for the waveform of a sound. madeBy: key of the work that made it. */
export function needWave(
  bench: Bench,
  sound: KeyedSound,
  clipThreshold: number | null,
  madeBy = `takeIn:${sound.key}`,
): WaveFileOf | undefined {
  const key = Cache.keyOf('wave', STEP_VERSION.wave, sound.key, clipThreshold);
  use(bench, key);
  const path = join(bench.cache.folder, `${key}.wave`);
  const drawn = bench.ledger.need<WaveFileOf>({
    key: `wave:${key}`,
    stage: 'wave',
    after: madeBy,
    known: () => {
      const record = bench.cache.record<DrawnWave>(key);
      return record === undefined || !existsSync(path) ? undefined : { ...record, path };
    },
    run: async (signal) => {
      const { soundPath, rateHz } = sound;
      const request = { soundPath, rateHz, levelFrames: WAVE_LEVEL_FRAMES, target: path, clipThreshold };
      const record = await bench.pool.run('drawWave', request, { signal });
      bench.cache.keep(key, record);
      return { ...record, path };
    },
  });
  return drawn.state === 'done' ? drawn.value : undefined;
}

/** Asks for the cleaned sound of a take. */
export function needCleaned(
  bench: Bench,
  take: Take,
  taken: TakenIn,
  plan: KeptPlan | null,
): { key: string; standing: Standing<CleanedTake> } {
  const { character, rule, fine } = take.clean;
  const given = take.silence ?? undefined;
  const expected = [expectedSilence(plan, take.placement)];
  const wish: CleanWish = { character, rule, given: [given], expected, ...(fine === null ? {} : { fine }) };
  const { key, isGuided } = cleanedKey(taken, wish);
  use(bench, key);
  const ledgerKey = `clean:${key}${isGuided ? ':guide' : ''}`;
  const standing = bench.ledger.need<CleanedTake>({
    key: ledgerKey,
    stage: 'clean',
    after: `takeIn:${taken.key}`,
    known: () => cleanedBefore(taken, wish, bench.cache),
    calmMs: CALM_MS,
    run: async (signal, onProgress) => {
      const [cleaned] = await cleanTaken([taken], wish, bench.cache, bench.pool, { signal, onProgress });
      return cleaned!;
    },
  });
  return { key: ledgerKey, standing };
}

/** Asks for the mended sound of a take; undefined where nothing is to be mended. madeBy: key of the work that made the sound. */
export function needMended(
  bench: Bench,
  { mend }: Take,
  sound: KeyedSound,
  madeBy: string,
): { key: string; standing: Standing<MendedTake> } | undefined {
  if (!mendsAnything(mend)) return undefined;
  const wish = { sound, mend };
  // What it is made from is kept, too: the next wish begins there again.
  use(bench, sound.key, mendedKey(wish));
  const key = `mend:${mendedKey(wish)}`;
  const standing = bench.ledger.need<MendedTake>({
    key,
    stage: 'mend',
    after: madeBy,
    known: () => mendedBefore(wish, bench.cache),
    calmMs: CALM_MS,
    run: async (signal, onProgress) => {
      const [mended] = await mendTaken([wish], bench.cache, bench.pool, { signal, onProgress });
      return mended!;
    },
  });
  return { key, standing };
}

/** Asks for the loudness of a sound. */
export function needLoudness(bench: Bench, sound: KeyedSound, madeBy: string): Standing<TakeLoudness> {
  use(bench, loudnessKey(sound.key));
  return bench.ledger.need<TakeLoudness>({
    key: `measure:${sound.key}`,
    stage: 'measure',
    after: madeBy,
    known: () => bench.cache.record<TakeLoudness>(loudnessKey(sound.key)),
    run: async (signal, onProgress) => {
      const [loudness] = await measureTaken([sound], bench.cache, bench.pool, { signal, onProgress });
      return loudness!;
    },
  });
}
