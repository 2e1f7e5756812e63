import { existsSync } from 'node:fs';
import { isExpected } from '../../core/noise/expected-silence.ts';
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
  /** Settings moved away from the character's own. */
  readonly fine?: CleanTakeRequest['fine'];
  /** Silences given by hand, in the order of the takes; where there is none it is searched. */
  readonly given?: readonly (Span | undefined)[];
  /** Where the guide has the silence, in each take's own time, in their order; searched there where none is given. */
  readonly expected?: readonly (Span | undefined)[];
}

/** A take after cleaning. Without a usable silence its sound is what it was, and a note says why. */
export interface CleanedTake {
  /** Of the cache entry its sound belongs to. */
  readonly key: string;
  readonly soundPath: string;
  readonly silence: SilenceReport | null;
  readonly noise: NoiseReport | null;
  /** Why it could not be cleaned; null when it was. */
  readonly unfit: UnfitReason | null;
  readonly notes: readonly string[];
  /** What the task told; null when it could not be cleaned. */
  readonly result: (CleanTakeResult & { kind: 'cleaned' }) | null;
}

export type UnfitReason = 'all music' | 'too short' | 'holds music' | 'digital silence';

interface Plan {
  readonly take: TakenIn;
  readonly given: Stretch | null;
  /** The silence is to be searched there first: what was found by itself lies elsewhere. */
  readonly expected: Stretch | null;
  /** What was found by itself lies where the guide has it. */
  readonly isGuided: boolean;
  readonly key: string;
}

/** Cleans takes, several at a time; what was cleaned the same way before comes from the cache. */
export async function cleanTaken(
  takes: readonly TakenIn[],
  wish: CleanWish,
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<CleanedTake[]> {
  const plans = takes.map((take, index) => planFor(take, wish.given?.[index], wish, wish.expected?.[index]));
  const fresh = plans.filter((plan) => !isCached(plan, cache));
  const results = await pool.runAll(
    'cleanTake',
    fresh.map((plan) => ({
      soundPath: plan.take.soundPath,
      rateHz: plan.take.rateHz,
      study: plan.take.study,
      given: plan.given,
      expected: plan.expected,
      ...clipAround(plan.take),
      character: wish.character,
      rule: wish.rule,
      ...(wish.fine === undefined ? {} : { fine: wish.fine }),
      form: 'cache' as const,
      cleanedPath: cache.soundPath(plan.key),
    })),
    options,
  );
  fresh.forEach((plan, index) => {
    cache.keep(plan.key, results[index]);
  });
  return plans.map((plan) => cleanedFrom(plan, wish, cache));
}

/** The clip of which a take is a part, where it has silences. */
function clipAround({ partOf }: TakenIn): Pick<CleanTakeRequest, 'clip'> {
  if (partOf === undefined) return {};
  const { clip, fromFrame } = partOf;
  const { search } = clip.study;
  if (search.kind !== 'found') return {};
  const { silences, confidence } = search;
  return { clip: { soundPath: clip.soundPath, fromFrame, silences, confidence } };
}

/** The take that was cleaned as the first of a wish before; undefined when it was not. */
export function cleanedBefore(take: TakenIn, wish: CleanWish, cache: Cache): CleanedTake | undefined {
  const plan = planFor(take, wish.given?.[0], wish, wish.expected?.[0]);
  return isCached(plan, cache) ? cleanedFrom(plan, wish, cache) : undefined;
}

function cleanedFrom(plan: Plan, wish: CleanWish, cache: Cache): CleanedTake {
  const result = cache.record<CleanTakeResult>(plan.key)!;
  return result.kind === 'unfit' ? untouched(plan.take, result.reason) : cleanedOf(plan, result, wish, cache);
}

/** The key of a take as it is to be cleaned as the first of a wish, and whether its silence is the guide's. */
export function cleanedKey(take: TakenIn, wish: CleanWish): { key: string; isGuided: boolean } {
  const { key, isGuided } = planFor(take, wish.given?.[0], wish, wish.expected?.[0]);
  return { key, isGuided };
}

/** Frames of the guide's silence are rounded to this, s, so that a fine move of a take does not clean it anew. */
const EXPECTED_STEP_SEC = 0.25;

function planFor(take: TakenIn, span: Span | undefined, wish: CleanWish, guideSpan: Span | undefined): Plan {
  const given = stretchOf(take, span);
  const { expected, isGuided } = expectedOf(take, given === null ? guideSpan : undefined);
  const shapedBy = [take.key, given, wish.character, wish.rule, wish.fine];
  const key = Cache.keyOf('clean', STEP_VERSION.clean, ...shapedBy, ...(expected === null ? [] : [expected]));
  return { take, given, expected, isGuided, key };
}

/**
 * What is to be made of where the guide has the silence: nothing, when what was found by itself lies there (`isGuided`),
 * else the stretch to search first.
 */
export function expectedOf(
  take: TakenIn,
  span: Span | undefined,
): { readonly expected: Stretch | null; readonly isGuided: boolean } {
  const nothing = { expected: null, isGuided: false };
  if (span === undefined) return nothing;
  const inner = {
    fromSec: Math.ceil(span.fromSec / EXPECTED_STEP_SEC) * EXPECTED_STEP_SEC,
    toSec: Math.floor(span.toSec / EXPECTED_STEP_SEC) * EXPECTED_STEP_SEC,
  };
  const stretch = stretchOf(take, inner)!;
  if (stretch.toFrame <= stretch.fromFrame) return nothing;
  const isGuided = isExpected(take.study.search, stretch);
  return { expected: isGuided ? null : stretch, isGuided };
}

/** A stretch given in seconds, as frames of the take; null for none. */
export function stretchOf(take: TakenIn, span: Span | undefined): Stretch | null {
  if (span === undefined) return null;
  const frame = (sec: number): number => Math.max(0, Math.min(take.lengthFrames, secondsToFrames(sec, take.rateHz)));
  return { fromFrame: frame(span.fromSec), toFrame: frame(span.toSec) };
}

function isCached(plan: Plan, cache: Cache): boolean {
  const record = cache.record<CleanTakeResult>(plan.key);
  if (record === undefined) return false;
  if (record.kind === 'unfit') return true;
  return existsSync(cache.soundPath(plan.key));
}

function untouched(take: TakenIn, unfit: UnfitReason): CleanedTake {
  return {
    key: take.key,
    soundPath: take.soundPath,
    result: null,
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
  return {
    key: plan.key,
    soundPath: cache.soundPath(plan.key),
    result,
    unfit: null,
    ...cleaningRecord(plan.isGuided ? guided(result) : result, plan.take.rateHz, wish.rule),
  };
}

/** The silence found by itself is where the guide has it. */
export function guided<Result extends CleanTakeResult & { kind: 'cleaned' }>(result: Result): Result {
  return { ...result, how: 'guide' };
}

/** What a report says of a cleaning. */
export function cleaningRecord(
  result: CleanTakeResult & { kind: 'cleaned' },
  rateHz: number,
  rule: CleanTakeRequest['rule'],
): { silence: SilenceReport; noise: NoiseReport; notes: string[] } {
  return {
    silence: {
      fromSec: result.silence.fromFrame / rateHz,
      toSec: result.silence.toFrame / rateHz,
      how: result.how,
    },
    noise: {
      levelDbfs: levelForReport(result.levelDbfs),
      reducedDb: Math.round(result.reducedDb * 100) / 100,
      humHz: result.humHz === null ? null : Math.round(result.humHz * 100) / 100,
      harmDb: result.harmDb === null ? null : Math.round(result.harmDb * 10) / 10,
      kurtosisRatio: result.kurtosisRatio === null ? null : Math.round(result.kurtosisRatio * 100) / 100,
      character: result.character,
      rule,
      spectrum: result.before.map((band, index) => ({
        hz: band.hz,
        beforeDb: band.levelDbfs,
        afterDb: result.after[index]!.levelDbfs,
      })),
    },
    notes: notesOn(result),
  };
}

/** Below this the silence found is a question to the user. */
const SURE_SILENCE = 0.5;

function notesOn(result: CleanTakeResult & { kind: 'cleaned' }): string[] {
  const notes: string[] = [];
  if (result.how === 'clip') {
    notes.push(
      'Nobody is silent for long enough in this part of the clip: its noise was learnt from the best silence elsewhere in the clip.',
    );
  }
  if (result.how === 'found' && result.confidence < SURE_SILENCE) {
    notes.push('Look here: the silence found may hold more than the room. Listen to it, or name another stretch.');
  }
  if (result.whistlesHz.length > 0) {
    const tones = result.whistlesHz.map((hz) => `${hz.toFixed(0)} Hz`).join(', ');
    notes.push(`Steady tones in the noise were taken out by themselves: ${tones}.`);
  }
  if (result.restoredSamples > 0) {
    notes.push(
      `The take is clipped: ${result.restoredSamples} samples were cut off by the recorder and have been restored as well as can be. Record with more distance or less gain next time.`,
    );
  }
  if (result.backedOff > 0) {
    notes.push(
      `Cleaned ${result.backedOff === 1 ? 'one step' : 'two steps'} more gently than asked, because the music would have suffered audibly.`,
    );
  }
  return notes;
}
