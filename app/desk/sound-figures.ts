import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { SoundFigures } from '../work/tasks/sound-figures.ts';
import { Cache } from './cache.ts';
import { keepLoudness } from './measure-taken.ts';
import { STEP_VERSION } from './steps.ts';
import { heardOf, type TakenIn } from './take-in.ts';

/** What is known of a take's sound beside its loudness. */
export type KnownFigures = Omit<SoundFigures, 'loudness'>;

/** The key under which what judging needs of a take is kept. */
export function figuresKey(takeKey: string): string {
  return Cache.keyOf('soundFigures', STEP_VERSION.soundFigures, takeKey);
}

/**
 * Noise, clap and clipped spots of takes, several at a time; those of before come from the cache. Their loudness is measured on the way and
 * kept where `measureTaken` looks for it.
 */
export async function figuresOfTaken(
  takes: readonly TakenIn[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<KnownFigures[]> {
  const known = takes.map(({ key }) => cache.record<KnownFigures>(figuresKey(key)));
  const fresh = takes.filter((_, index) => known[index] === undefined);
  const results = await pool.runAll(
    'soundFigures',
    fresh.map((take) => ({
      soundPath: take.soundPath,
      rateHz: take.rateHz,
      study: take.study,
      heard: heardOf(take),
    })),
    options,
  );
  const figures = results.map(({ loudness, ...rest }, index) => {
    const { key } = fresh[index]!;
    if (loudness !== null) keepLoudness(cache, key, loudness);
    cache.keep(figuresKey(key), rest);
    return rest;
  });
  return takes.map((take, index) => known[index] ?? figures[fresh.indexOf(take)]!);
}
