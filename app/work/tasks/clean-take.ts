import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import { type Around, aroundOf, measureAround } from '../../../core/noise/around.ts';
import { type BandLevel, bandSpectrum } from '../../../core/noise/band-spectrum.ts';
import { Cleaner } from '../../../core/noise/cleaner.ts';
import { CleaningMeasure, type CleaningReport } from '../../../core/noise/cleaning-measure.ts';
import type { Stretch } from '../../../core/noise/learn.ts';
import { type CleaningPlan, planCleaning } from '../../../core/noise/noise.ts';
import { type Character, type CleanSettings, settingsOf } from '../../../core/noise/settings.ts';
import type { TakeStudy } from '../../../core/noise/silence-finder.ts';
import type { Block } from '../../../core/signal/block.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { type OpenSound, openSound } from '../sound-file.ts';
import { openOutput, type SoundForm } from '../sound-output.ts';

export interface CleanTakeRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  readonly study: TakeStudy;
  /** The silence the user marked; null: those that were found. */
  readonly given: Stretch | null;
  /** Where the guide has the silence, which is searched there first; null where it is not known. */
  readonly expected?: Stretch | null;
  /** The clip of which the take is a part, for its silences; absent: the take is the whole clip. */
  readonly clip?: {
    readonly soundPath: string;
    /** Frame of the clip at which the take begins. */
    readonly fromFrame: number;
    /** Frames of the clip, best first. */
    readonly silences: readonly Stretch[];
    readonly confidence: number;
  };
  readonly character: Character;
  readonly rule: 'lsa' | 'wiener' | 'subtract';
  /** Settings moved away from the character's own. */
  readonly fine?: Partial<CleanSettings>;
  readonly form: SoundForm;
  /** Where the cleaned sound goes, and what was taken away where it is wanted. */
  readonly cleanedPath: string;
  readonly removedPath?: string;
  /** Whether the loudness of the cleaned take is wanted, too. */
  readonly measured?: boolean;
  /** Whether the spectra of the silence before and after are wanted; true when absent. */
  readonly spectra?: boolean;
}

/** What cleaning a take came to. Without a usable silence nothing is written. */
export type CleanTakeResult =
  | { readonly kind: 'unfit'; readonly reason: Extract<CleaningPlan, { kind: 'leave' }>['reason'] }
  | {
      readonly kind: 'cleaned';
      /** Frames of the take; outside it where it lies elsewhere in the clip. */
      readonly silence: Stretch;
      readonly how: 'found' | 'given' | 'guide' | 'clip';
      /** 0 to 1: how sure the silence is. */
      readonly confidence: number;
      readonly humHz: number | null;
      readonly whistlesHz: readonly number[];
      /** Lines of the hum, with their level before. */
      readonly humLines: readonly { readonly hz: number; readonly levelDbfs: number }[];
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
      /** Gated loudness of the cleaned take, LUFS; null when it was not asked for or is silent. */
      readonly integratedLufs: number | null;
      /** Empty where no spectra were asked for. */
      readonly before: readonly BandLevel[];
      readonly after: readonly BandLevel[];
    };

const BLOCK_FRAMES = 16384;

/** Learns a take's noise and writes the take without it, as long as it was. */
export async function cleanTake(request: CleanTakeRequest, control: TaskControl): Promise<CleanTakeResult> {
  const sound = openSound(request.soundPath, request.rateHz);
  const clip = request.clip === undefined ? undefined : openSound(request.clip.soundPath, request.rateHz);
  try {
    const around = clip === undefined ? undefined : aroundOf(clip, request.clip!);
    const plan = planCleaning(
      sound,
      { ...settingsOf(request.character, request.rule), ...request.fine },
      {
        study: request.study,
        cancel: control.cancel,
        ...(request.given === null ? {} : { given: request.given }),
        ...(request.expected == null ? {} : { hint: request.expected }),
        ...(around === undefined ? {} : { around }),
      },
    );
    if (plan.kind === 'leave') return { kind: 'unfit', reason: plan.reason };
    const written = await writeCleaned(request, sound, plan, control);
    return resultOf(request, sound, plan, written, plan.how === 'clip' ? around : undefined);
  } finally {
    sound.close();
    clip?.close();
  }
}

type Plan = Extract<CleaningPlan, { kind: 'clean' }>;

interface Written {
  readonly report: CleaningReport;
  readonly integratedLufs: number;
}

async function writeCleaned(
  request: CleanTakeRequest,
  sound: OpenSound,
  plan: Plan,
  control: TaskControl,
): Promise<Written> {
  const targets = [request.cleanedPath, request.removedPath].filter((path) => path !== undefined);
  const outputs = targets.map((path) => openOutput(path, request.form, request.rateHz));
  const measure = new CleaningMeasure(plan.profile, plan.silences.slice(0, 1), plan.study.clip);
  const meter = request.measured
    ? new LoudnessMeter({ rateHz: request.rateHz, channels: 1, truePeak: 'off' })
    : undefined;
  const second = request.removedPath === undefined ? 'before' : 'removed';
  const write = (cleaned: Block): void => {
    measure.add(cleaned[0]!, cleaned[1]!, second);
    meter?.add([cleaned[0]!]);
    outputs.forEach((output, index) => {
      output.write(cleaned[index]!);
    });
  };
  let whole = false;
  try {
    const cleaner = new Cleaner(request.rateHz, plan.profile, plan.settings, { clip: plan.study.clip, second });
    const buffer = new Float32Array(BLOCK_FRAMES);
    for (let from = 0; from < sound.lengthFrames; from += BLOCK_FRAMES) {
      throwIfCancelled(control.cancel);
      const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, sound.lengthFrames - from));
      sound.read(from, samples);
      write(cleaner.process([samples]));
      control.onProgress(from / sound.lengthFrames);
      await control.breathe();
    }
    write(cleaner.flush());
    whole = true;
  } finally {
    for (const output of outputs) output.end(whole);
  }
  return { report: measure.result(), integratedLufs: meter?.result().integratedLufs ?? Number.NEGATIVE_INFINITY };
}

/** around: where the silence lies, when it lies outside the take. */
function resultOf(
  request: CleanTakeRequest,
  sound: OpenSound,
  plan: Plan,
  written: Written,
  around: Around | undefined,
): CleanTakeResult {
  const { integratedLufs } = written;
  const silence = plan.silences[0]!;
  const elsewhere = around === undefined ? undefined : measureAround(around, silence, plan.profile, plan.settings);
  const report = elsewhere === undefined ? written.report : { ...elsewhere.report, harmDb: written.report.harmDb };
  const heard = elsewhere?.silence ?? silence;
  const cleaned = request.spectra === false ? undefined : openSound(request.cleanedPath, request.rateHz);
  try {
    return {
      kind: 'cleaned',
      silence: { fromFrame: silence.fromFrame, toFrame: silence.toFrame },
      how: plan.how,
      confidence: plan.confidence,
      humHz: plan.profile.humHz,
      whistlesHz: plan.profile.lines.filter((line) => !line.hum).map((line) => line.hz),
      humLines: plan.profile.lines.filter((line) => line.hum).map(({ hz, levelDbfs }) => ({ hz, levelDbfs })),
      levelDbfs: report.levelDbfs,
      reducedDb: report.reducedDb,
      harmDb: Number.isFinite(report.harmDb) ? report.harmDb : null,
      kurtosisRatio: Number.isFinite(report.kurtosisRatio) ? report.kurtosisRatio : null,
      character: request.character,
      backedOff: plan.backedOff,
      restoredSamples: plan.settings.restoreClipped ? (plan.study.clip?.samples ?? 0) : 0,
      integratedLufs: Number.isFinite(integratedLufs) ? integratedLufs : null,
      before: cleaned === undefined ? [] : bandSpectrum(around?.sound ?? sound, heard),
      after: cleaned === undefined ? [] : bandSpectrum(elsewhere?.cleaned ?? cleaned, heard),
    };
  } finally {
    cleaned?.close();
  }
}
