import { PartsongError } from '../../core/signal/fault.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { Cache } from './cache.ts';
import { type TakenIn, takeInClips } from './take-in.ts';

/** Takes clips in, and the guide they were played to beside them; a guide that cannot be used is told as such. */
export async function takeInWithGuide(
  clips: readonly string[],
  guide: string | undefined,
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<{ takes: TakenIn[]; guide: TakenIn | undefined }> {
  try {
    const taken = await takeInClips(guide === undefined ? clips : [...clips, guide], cache, pool, options);
    return { takes: taken.slice(0, clips.length), guide: taken[clips.length] };
  } catch (error) {
    const isGuide = error instanceof PartsongError && error.file === guide && guide !== undefined;
    if (!isGuide || clips.includes(guide)) throw error;
    const nextStep = 'Name with --guide the sound that you heard in your headphones, or leave --guide out.';
    throw new PartsongError(error.code, `The guide cannot be used: ${error.message}`, nextStep, guide, {
      cause: error,
    });
  }
}
