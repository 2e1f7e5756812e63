import { basename } from 'node:path';
import { levelForReport, type TakeReport } from '../../core/session/report.ts';
import type { Span } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { writeWhole } from '../media/whole-file.ts';
import type { WorkPool } from '../work/pool.ts';
import type { CleanTakeRequest, CleanTakeResult } from '../work/tasks/clean-take.ts';
import { cleaningRecord, stretchOf, UNFIT_SENTENCE } from './clean-taken.ts';
import { bareName, voiceNameOf } from './names.ts';
import { withScratch } from './scratch.ts';
import { refuseTargets } from './source-guard.ts';
import { type TakenIn, takeInClips } from './take-in.ts';

export interface CleanOptions {
  readonly clip: string;
  readonly out: string;
  /** Where nobody plays, in the take's own time; searched when absent. */
  readonly silence?: Span | undefined;
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
    const listening = { signal, traced: false, onProgress: onStep('Listening to the take') };
    const [take] = await takeInClips([clip], cache, pool, listening);
    if (take === undefined) throw new RangeError('no take came back');
    const clean = (cleanedPath: string, removedPath?: string): Promise<Cleaned> =>
      cleanInto(options, take, pool, cleanedPath, removedPath);
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

async function cleanInto(
  options: CleanOptions,
  take: TakenIn,
  pool: WorkPool,
  cleanedPath: string,
  removedPath: string | undefined,
): Promise<Cleaned> {
  const { clip, signal, onStep } = options;
  const result = await pool.run(
    'cleanTake',
    {
      soundPath: take.soundPath,
      rateHz: take.rateHz,
      study: take.study,
      given: stretchOf(take, options.silence),
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
  if (result.kind === 'cleaned') return result;
  throw new PartsongError(
    'no-silence',
    `${clip} was not cleaned: ${UNFIT_SENTENCE[result.reason]}`,
    'Give the stretch with --silence FROM-TO, in seconds of the take, for example --silence 2-5.',
    clip,
  );
}
