import { existsSync, renameSync, rmSync } from 'node:fs';
import { type BandLevel, bandSpectrum } from '../../../core/noise/band-spectrum.ts';
import { Cleaner } from '../../../core/noise/cleaner.ts';
import { CleaningMeasure, type CleaningReport } from '../../../core/noise/cleaning-measure.ts';
import type { Stretch } from '../../../core/noise/learn.ts';
import { type CleaningPlan, planCleaning } from '../../../core/noise/noise.ts';
import { type Character, settingsOf } from '../../../core/noise/settings.ts';
import type { TakeStudy } from '../../../core/noise/silence-finder.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { SoundFile, SoundFileWriter } from '../sound-file.ts';

export interface CleanTakeRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  readonly study: TakeStudy;
  /** The silence the user marked; null: those that were found. */
  readonly given: Stretch | null;
  readonly character: Character;
  readonly rule: 'lsa' | 'wiener' | 'subtract';
  /** Where the cleaned sound goes, and what was taken away where it is wanted. Both take their names when whole. */
  readonly cleanedPath: string;
  readonly removedPath?: string;
}

/** What cleaning a take came to. Without a usable silence nothing is written. */
export type CleanTakeResult =
  | { readonly kind: 'unfit'; readonly reason: Extract<CleaningPlan, { kind: 'leave' }>['reason'] }
  | {
      readonly kind: 'cleaned';
      readonly silence: Stretch;
      readonly how: 'found' | 'given';
      /** 0 to 1: how sure the silence is. */
      readonly confidence: number;
      readonly humHz: number | null;
      readonly whistlesHz: readonly number[];
      readonly levelDbfs: number;
      readonly reducedDb: number;
      /** null: no harm was found. */
      readonly harmDb: number | null;
      readonly kurtosisRatio: number | null;
      readonly character: Character;
      /** Steps by which the settings were made gentler. */
      readonly backedOff: number;
      /** Clipped samples that were restored. */
      readonly restoredSamples: number;
      readonly before: readonly BandLevel[];
      readonly after: readonly BandLevel[];
    };

const BLOCK_FRAMES = 16384;

/** Learns a take's noise and writes the take without it, as long as it was. */
export async function cleanTake(request: CleanTakeRequest, control: TaskControl): Promise<CleanTakeResult> {
  const sound = new SoundFile(request.soundPath, request.rateHz);
  try {
    const plan = planCleaning(sound, settingsOf(request.character, request.rule), {
      study: request.study,
      cancel: control.cancel,
      ...(request.given === null ? {} : { given: request.given }),
    });
    if (plan.kind === 'leave') return { kind: 'unfit', reason: plan.reason };
    const report = writeCleaned(request, sound, plan, control);
    return resultOf(request, sound, plan, report);
  } finally {
    sound.close();
  }
}

type Plan = Extract<CleaningPlan, { kind: 'clean' }>;

function writeCleaned(request: CleanTakeRequest, sound: SoundFile, plan: Plan, control: TaskControl): CleaningReport {
  const parts = [request.cleanedPath, request.removedPath]
    .filter((path) => path !== undefined)
    .map((path) => ({ path, part: `${path}.part` }));
  const writers = parts.map(({ part }) => new SoundFileWriter(part));
  const measure = new CleaningMeasure(plan.profile, plan.silences, plan.study.clip);
  const write = (output: readonly Float32Array[]): void => {
    measure.add(output[0]!, output[1]!);
    writers.forEach((writer, index) => {
      writer.write(output[index]!);
    });
  };
  try {
    try {
      const cleaner = new Cleaner(request.rateHz, plan.profile, plan.settings, { clip: plan.study.clip });
      const buffer = new Float32Array(BLOCK_FRAMES);
      for (let from = 0; from < sound.lengthFrames; from += BLOCK_FRAMES) {
        throwIfCancelled(control.cancel);
        const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, sound.lengthFrames - from));
        sound.read(from, samples);
        write(cleaner.process([samples]));
        control.onProgress(from / sound.lengthFrames);
      }
      write(cleaner.flush());
    } finally {
      for (const writer of writers) writer.close();
    }
    for (const { path, part } of parts) renameSync(part, path);
  } finally {
    for (const { part } of parts) if (existsSync(part)) rmSync(part, { force: true });
  }
  return measure.result();
}

function resultOf(request: CleanTakeRequest, sound: SoundFile, plan: Plan, report: CleaningReport): CleanTakeResult {
  const silence = plan.silences[0]!;
  const cleaned = new SoundFile(request.cleanedPath, request.rateHz);
  try {
    return {
      kind: 'cleaned',
      silence: { fromFrame: silence.fromFrame, toFrame: silence.toFrame },
      how: plan.how,
      confidence: plan.confidence,
      humHz: plan.profile.humHz,
      whistlesHz: plan.profile.lines.filter((line) => !line.hum).map((line) => line.hz),
      levelDbfs: report.levelDbfs,
      reducedDb: report.reducedDb,
      harmDb: Number.isFinite(report.harmDb) ? report.harmDb : null,
      kurtosisRatio: Number.isFinite(report.kurtosisRatio) ? report.kurtosisRatio : null,
      character: request.character,
      backedOff: plan.backedOff,
      restoredSamples: plan.settings.restoreClipped ? (plan.study.clip?.samples ?? 0) : 0,
      before: bandSpectrum(sound, silence),
      after: bandSpectrum(cleaned, silence),
    };
  } finally {
    cleaned.close();
  }
}
