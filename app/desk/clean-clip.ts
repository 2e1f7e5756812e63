import { basename } from 'node:path';
import { levelForReport, type TakeReport } from '../../core/session/report.ts';
import type { Span } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { writeWhole } from '../media/whole-file.ts';
import type { WorkPool } from '../work/pool.ts';
import type { CleanTakeRequest, CleanTakeResult } from '../work/tasks/clean-take.ts';
import type { Cache } from './cache.ts';
import { cleaningRecord, expectedOf, guided, stretchOf, UNFIT_SENTENCE } from './clean-taken.ts';
import { bareName, voiceNameOf } from './names.ts';
import { expectedSilence } from './placement.ts';
import { withScratch } from './scratch.ts';
import { refuseTargets } from './source-guard.ts';
import { type TakenIn, takeInClips } from './take-in.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';

export interface CleanOptions {
  readonly clip: string;
  readonly out: string;
  /** Where nobody plays, in the take's own time; searched when absent. */
  readonly silence?: Span | undefined;
  /** The guide the take was played to: the silence is searched where the guide has it. */
  readonly guide?: string | undefined;
  readonly rule: CleanTakeRequest['rule'];
  readonly character: CleanTakeRequest['character'];
  /** Where what was taken away is to go. */
  readonly removed?: string | undefined;
  /** Whether the loudness of the cleaned take and the spectra of its noise are wanted; true when absent. */
  readonly measured?: boolean;
  readonly signal: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** What `partsong clean --json` prints: the take's record, which also stands in `takes` as in every other report. */
export interface CleanReport extends TakeReport {
  readonly takes: readonly TakeReport[];
}

/**
 * Writes one take without its noise: mono float WAV at the take's own rate, on its own time line, as long as it was.
 * Throws PartsongError 'no-silence' when there is nothing to learn from, and nothing is written then.
 */
export async function cleanClip(options: CleanOptions): Promise<CleanReport> {
  const { clip, out, removed, signal, onStep } = options;
  await refuseTargets(removed === undefined ? [out] : [out, removed], [clip]);
  return withScratch(0, async (cache, pool) => {
    const listening = { signal, onProgress: onStep('Listening to the take') };
    const isGuideOfUse = options.guide !== undefined && options.silence === undefined;
    const { takes, guide } = isGuideOfUse
      ? await takeInWithGuide([clip], options.guide, cache, pool, listening)
      : { takes: await takeInClips([clip], cache, pool, { ...listening, traced: false }), guide: undefined };
    const [take] = takes;
    if (take === undefined) throw new RangeError('no take came back');
    const expected = guide === undefined ? undefined : await silenceByGuide(options, take, guide, cache, pool);
    const clean = (cleanedPath: string, removedPath?: string): Promise<Cleaned> =>
      cleanInto(options, take, expected, pool, cleanedPath, removedPath);
    const result = await writeWhole(
      out,
      (cleanedPath) =>
        removed === undefined
          ? clean(cleanedPath)
          : writeWhole(removed, (removedPath) => clean(cleanedPath, removedPath), signal),
      // Once the inner file has its name a stop comes too late: both are kept, or neither.
      removed === undefined ? signal : undefined,
    );
    const record = cleaningRecord(result, take.rateHz, options.rule);
    const report: TakeReport = {
      file: basename(clip),
      name: bareName(clip),
      voice: voiceNameOf(clip),
      lengthSec: take.lengthFrames / take.rateHz,
      stem: null,
      silence: record.silence,
      noise: record.noise,
      placement: null,
      loudness: { integratedLufs: result.integratedLufs === null ? null : levelForReport(result.integratedLufs) },
      music: null,
      gainDb: 0,
      role: 'free',
      placeDeg: 0,
      notes: [...take.notes, ...record.notes],
    };
    return { ...report, takes: [report] };
  });
}

type Cleaned = CleanTakeResult & { kind: 'cleaned' };

/** Where the guide has its silence in a take. Throws PartsongError 'bad-option' for a guide that does not know. */
async function silenceByGuide(
  { guide: file, signal, onStep }: CleanOptions,
  take: TakenIn,
  guide: TakenIn,
  cache: Cache,
  pool: WorkPool,
): Promise<Span | undefined> {
  // Loaded where there is a guide only: checking its file brings in code that takes 60 ms to load.
  const { guideFileOf, keptPlanOf } = await import('./guide-file.ts');
  const { lineUpTaken } = await import('./line-up-taken.ts');
  const plan = keptPlanOf((await guideFileOf(guide)).file);
  if (plan === null) {
    throw new PartsongError(
      'bad-option',
      `Nothing tells where ${file} has its silence: no .guide.json that can be read and fits lies beside it.`,
      'Name a guide made by partsong guide, or the stretch with --silence FROM-TO; or leave --guide out.',
      file,
    );
  }
  const [found] = await lineUpTaken([take], guide, cache, pool, {
    signal,
    plan,
    onProgress: onStep('Finding the guide in it'),
  });
  return expectedSilence(plan, found!);
}

async function cleanInto(
  options: CleanOptions,
  take: TakenIn,
  span: Span | undefined,
  pool: WorkPool,
  cleanedPath: string,
  removedPath: string | undefined,
): Promise<Cleaned> {
  const { clip, signal, onStep } = options;
  const { expected, isGuided } = expectedOf(take, span);
  const result = await pool.run(
    'cleanTake',
    {
      soundPath: take.soundPath,
      rateHz: take.rateHz,
      study: take.study,
      given: stretchOf(take, options.silence),
      expected,
      character: options.character,
      rule: options.rule,
      form: 'wave',
      measured: options.measured ?? true,
      spectra: options.measured ?? true,
      cleanedPath,
      ...(removedPath === undefined ? {} : { removedPath }),
    },
    { signal, onProgress: onStep('Cleaning') },
  );
  if (result.kind === 'cleaned') return isGuided ? guided(result) : result;
  throw new PartsongError(
    'no-silence',
    `${clip} was not cleaned: ${UNFIT_SENTENCE[result.reason]}`,
    'Give the stretch with --silence FROM-TO, in seconds of the take, for example --silence 2-5.',
    clip,
  );
}
