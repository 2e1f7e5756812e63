import { existsSync } from 'node:fs';
import type { Stretch } from '../../core/noise/learn.ts';
import type { Character } from '../../core/noise/settings.ts';
import { levelForReport, type NoiseReport, type SilenceReport } from '../../core/session/report.ts';
import type { Span } from '../../core/session/schema.ts';
import { secondsToFrames } from '../../core/signal/time.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { CleanTakeRequest, CleanTakeResult } from '../work/tasks/clean-take.ts';
import { Cache } from './cache.ts';
import { STEP_VERSION } from './steps.ts';
import type { TakenIn } from './take-in.ts';

export interface CleanWish {
  readonly character: Character;
  readonly rule: CleanTakeRequest['rule'];
  /** Silences given by hand, in the order of the takes; where there is none it is searched. */
  readonly given?: readonly (Span | undefined)[];
  /** What was taken away is wanted, too. */
  readonly removed?: boolean;
}

/** A take after cleaning. Without a usable silence its sound is what it was, and a note says why. */
export interface CleanedTake {
  readonly soundPath: string;
  readonly removedPath: string | undefined;
  readonly silence: SilenceReport | null;
  readonly noise: NoiseReport | null;
  /** Why it could not be cleaned; null when it was. */
  readonly unfit: UnfitReason | null;
  readonly notes: readonly string[];
}

export type UnfitReason = 'all music' | 'too short' | 'holds music' | 'digital silence';

interface Plan {
  readonly take: TakenIn;
  readonly silences: readonly Stretch[];
  readonly how: SilenceReport['how'];
  readonly unfit: UnfitReason | null;
  readonly key: string;
  readonly removedPath: string | undefined;
}

/** Cleans takes, several at a time; what was cleaned the same way before comes from the cache. */
export async function cleanTaken(
  takes: readonly TakenIn[],
  wish: CleanWish,
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<CleanedTake[]> {
  const plans = takes.map((take, index) => planFor(take, wish.given?.[index], wish, cache));
  const fresh = plans.filter((plan) => plan.unfit === null && !isCached(plan, cache));
  const results = await pool.runAll(
    'cleanTake',
    fresh.map((plan) => ({
      soundPath: plan.take.soundPath,
      rateHz: plan.take.rateHz,
      silences: plan.silences,
      clip: plan.take.study.clip,
      character: wish.character,
      rule: wish.rule,
      cleanedPath: cache.soundPath(plan.key),
      ...(plan.removedPath === undefined ? {} : { removedPath: plan.removedPath }),
    })),
    options,
  );
  fresh.forEach((plan, index) => {
    cache.keep(plan.key, results[index]);
  });
  return plans.map((plan) => {
    if (plan.unfit !== null) return untouched(plan.take, plan.unfit);
    const result = cache.record<CleanTakeResult>(plan.key)!;
    return result.kind === 'unfit' ? untouched(plan.take, result.reason) : cleanedOf(plan, result, wish, cache);
  });
}

function planFor(take: TakenIn, given: Span | undefined, wish: CleanWish, cache: Cache): Plan {
  const { search } = take.study;
  const silences: readonly Stretch[] =
    given !== undefined
      ? [
          {
            fromFrame: secondsToFrames(given.fromSec, take.rateHz),
            toFrame: Math.min(take.lengthFrames, secondsToFrames(given.toSec, take.rateHz)),
          },
        ]
      : search.kind === 'found'
        ? search.silences.map(({ fromFrame, toFrame }) => ({ fromFrame, toFrame }))
        : [];
  const unfit = silences.length > 0 || search.kind === 'found' ? null : search.reason;
  const key = Cache.keyOf('clean', STEP_VERSION.clean, take.key, silences, wish.character, wish.rule);
  return {
    take,
    silences,
    how: given === undefined ? 'found' : 'given',
    unfit,
    key,
    removedPath: wish.removed ? `${cache.soundPath(key)}.removed` : undefined,
  };
}

function isCached(plan: Plan, cache: Cache): boolean {
  const record = cache.record<CleanTakeResult>(plan.key);
  if (record === undefined) return false;
  if (record.kind === 'unfit') return true;
  return existsSync(cache.soundPath(plan.key)) && (plan.removedPath === undefined || existsSync(plan.removedPath));
}

function untouched(take: TakenIn, unfit: UnfitReason): CleanedTake {
  return {
    soundPath: take.soundPath,
    removedPath: undefined,
    silence: null,
    noise: null,
    unfit,
    notes: [`Not cleaned: ${UNFIT_SENTENCE[unfit]}`],
  };
}

/** Why a take could not be cleaned, and what to do. */
export const UNFIT_SENTENCE: Readonly<Record<UnfitReason, string>> = {
  'all music':
    'no stretch was found in which nobody plays. Leave some seconds of silence before the clap, or name one.',
  'too short': 'the silence is too short to learn the noise from. Half a second is the least; three seconds are good.',
  'holds music': 'what should be silence holds music or other sounds. Name a stretch in which nobody plays.',
  'digital silence': 'the silence holds nothing at all, not even the room, so there is no noise to learn.',
};

function cleanedOf(
  plan: Plan,
  result: CleanTakeResult & { kind: 'cleaned' },
  wish: CleanWish,
  cache: Cache,
): CleanedTake {
  const { rateHz } = plan.take;
  return {
    soundPath: cache.soundPath(plan.key),
    removedPath: plan.removedPath,
    silence: {
      fromSec: result.silence.fromFrame / rateHz,
      toSec: result.silence.toFrame / rateHz,
      how: plan.how,
    },
    noise: {
      levelDbfs: levelForReport(result.levelDbfs),
      reducedDb: Math.round(result.reducedDb * 100) / 100,
      humHz: result.humHz,
      harmDb: result.harmDb,
      kurtosisRatio: result.kurtosisRatio,
      character: result.character,
      rule: wish.rule,
      spectrum: result.before.map((band, index) => ({
        hz: band.hz,
        beforeDb: band.levelDbfs,
        afterDb: result.after[index]!.levelDbfs,
      })),
    },
    unfit: null,
    notes: result.notes,
  };
}
