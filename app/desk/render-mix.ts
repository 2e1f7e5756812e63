import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import type { Report } from '../../core/session/report.ts';
import type { Placement, Span, Take, Voice } from '../../core/session/schema.ts';
import { stripOf } from '../../core/session/strip-of.ts';
import { sessionSecOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { WrittenFormat } from '../../core/wave/format.ts';
import type { EncodedFormat } from '../media/encode.ts';
import type { LaidSound } from '../work/laid-sound.ts';
import type { WorkPool } from '../work/pool.ts';
import type { MixdownRequest, MixdownResult } from '../work/tasks/mixdown.ts';
import type { BlendedVoice } from './blend.ts';
import type { CleanedTake } from './clean-taken.ts';
import { type Composed, laidPassagesOf, laidTakeOf } from './composed-voice.ts';
import type { MendedTake } from './mend-taken.ts';
import { type StemMade, writeReport } from './mix-report.ts';
import { fileNameOf, uniqueNames } from './names.ts';
import type { RenderFolder } from './render-folder.ts';
import type { TakenIn } from './take-in.ts';
import { uploadCopy } from './upload-copy.ts';

/** A voice that is heard, with all that is known of the take it sounds with. */
export interface RenderPart {
  readonly voice: Voice;
  readonly take: Take;
  readonly taken: TakenIn;
  /** undefined where the noise stays. */
  readonly cleaned: CleanedTake | undefined;
  /** undefined where nothing is mended. */
  readonly mended?: MendedTake | undefined;
  readonly placement: Placement;
  readonly blended: BlendedVoice;
  /** Where the voice is made of passages, its take being the main one; else null or absent. */
  readonly composed?: Composed | null;
}

/** Everything a render is made from. */
export interface RenderPlan {
  readonly title: string;
  readonly parts: readonly RenderPart[];
  readonly lengthFrames: number;
  /** The stretch in which the mix sounds; null: all of it. */
  readonly span: Span | null;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  readonly wave: WrittenFormat;
  readonly copy: EncodedFormat | null;
  readonly stems: boolean;
  /** What the report says besides. */
  readonly notes: readonly string[];
}

export interface RenderOptions {
  readonly signal: AbortSignal;
  /** Called at each step with its name; the function it gives takes fractions 0 to 1. */
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** File names of the stems, in the order of the parts' take names. */
export function stemNamesOf(takeNames: readonly string[]): string[] {
  // A take may be called anything; a file may not.
  const plain = takeNames.map((name) => fileNameOf(name) || 'take');
  return uniqueNames(plain).map((name) => `${name}.wav`);
}

/** What a render will make, as paths inside its folder. */
export function renderFiles(stemNames: readonly string[], copy: EncodedFormat | null): string[] {
  const files = ['mix.wav', ...stemNames.map((name) => join('stems', name))];
  if (copy !== null) files.push(`mix-upload.${copy}`);
  return files;
}

/** Where a part's sound lies, for mixing. raw: as it was recorded, not cleaned. */
export function laidSoundOf(part: RenderPart, raw = false): LaidSound {
  return part.composed == null ? laidTakeOf(part, raw) : laidPassagesOf(part.composed, raw);
}

/** The takes that are heard in a part, each once. */
export function takesIn(part: RenderPart): Pick<RenderPart, 'take' | 'taken' | 'cleaned' | 'mended' | 'placement'>[] {
  if (part.composed == null) return [part];
  return [...new Map(part.composed.parts.map((one) => [one.take.id, one])).values()];
}

/** What the mix itself depends on. */
export function mixRequest(plan: RenderPlan, busPath: string): Omit<MixdownRequest, 'target' | 'format'> {
  return {
    voices: plan.parts.map((part) => ({
      sound: laidSoundOf(part),
      strip: stripOf(part.voice, part.blended.finding),
    })),
    lengthFrames: plan.lengthFrames,
    span: plan.span,
    targetLufs: plan.targetLufs,
    ceilingDbtp: plan.ceilingDbtp,
    busPath,
  };
}

/** Session frames until the last take has ended. */
export function sessionLength(parts: readonly RenderPart[]): number {
  const ends = parts
    .flatMap(takesIn)
    .map(({ taken, placement }) => sessionSecOf(placement, taken.lengthFrames / taken.rateHz));
  return Math.max(1, Math.ceil(Math.max(0, ...ends) * SESSION_RATE_HZ));
}

/** Writes stems, mix, copy and report into a folder that is kept or abandoned by the caller. */
export async function renderMix(
  folder: RenderFolder,
  plan: RenderPlan,
  pool: WorkPool,
  options: RenderOptions,
): Promise<{ report: Report; mix: MixdownResult }> {
  const { signal, onStep } = options;
  const { parts, lengthFrames, span, copy } = plan;
  const stemNames = stemNamesOf(parts.map(({ take }) => take.name));
  const stemPaths = stemNames.map((name) => folder.path('stems', name));
  let stems: readonly StemMade[] | null = null;
  if (plan.stems) {
    await mkdir(folder.path('stems'));
    const made = await pool.runAll(
      'stem',
      parts.map((part, index) => ({
        sound: laidSoundOf(part),
        lengthFrames,
        target: stemPaths[index]!,
        description: `${plan.title}: ${part.voice.name}`,
      })),
      { signal, onProgress: onStep(`Laying ${countOf(parts.length)} on the time line`) },
    );
    stems = made.map(({ truePeakDbtp }, index) => ({ file: `stems/${stemNames[index]}`, truePeakDbtp }));
  }
  const request = mixRequest(plan, folder.path('bus.f32'));
  const mix = await pool.run(
    'mixdown',
    {
      ...request,
      // Stems that were just written need no second resampling; their samples are the same.
      voices: plan.stems
        ? request.voices.map(({ strip }, index) => ({
            sound: { soundPath: stemPaths[index]!, rateHz: SESSION_RATE_HZ, place: null },
            strip,
          }))
        : request.voices,
      target: folder.path('mix.wav'),
      format: plan.wave,
    },
    { signal, onProgress: onStep('Mixing') },
  );
  const copies =
    copy === null
      ? []
      : [
          await uploadCopy(folder.path('mix.wav'), folder.path(`mix-upload.${copy}`), {
            format: copy,
            span,
            title: plan.title,
            ceilingDbtp: plan.ceilingDbtp,
            signal,
            onProgress: onStep('Writing the copy for upload'),
          }),
        ];
  const report = await writeReport(folder, plan, stems, mix, copies);
  return { report, mix };
}

/** "the take" or "4 takes". */
export function countOf(takes: number): string {
  return takes === 1 ? 'the take' : `${takes} takes`;
}
