import { basename, join, resolve } from 'node:path';
import type { Report } from '../../core/session/report.ts';
import type { Session } from '../../core/session/schema.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { WrittenFormat } from '../../core/wave/format.ts';
import type { EncodedFormat } from '../media/encode.ts';
import {
  type AssignedVoice,
  type AssignRule,
  assignClips,
  type NamedVoice,
  noClips,
  takeNameOf,
} from './assignment.ts';
import { attemptsOf } from './attempts.ts';
import { blend, mixSpan } from './blend.ts';
import { cleanTaken } from './clean-taken.ts';
import { Desk } from './desk.ts';
import { guideFileBeside, guideFileOf, keepGuideFile, keptPlanOf } from './guide-file.ts';
import { lineUpTaken } from './line-up-clips.ts';
import { SessionLock } from './lock.ts';
import { measureTaken } from './measure-taken.ts';
import { chosenOf, fillMixSession } from './mix-takes.ts';
import { rolesOf } from './names.ts';
import { expectedSilence, keptPlacement } from './placement.ts';
import { RenderFolder } from './render-folder.ts';
import { countOf, renderFiles, renderMix, sessionLength, stemNamesOf } from './render-mix.ts';
import { refuseSources } from './source-guard.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';
import { workFault } from './work-fault.ts';

export interface MixOptions {
  /** Top voice first. */
  readonly clips: readonly string[];
  /** Which clip is of which voice; each of its own when absent. Of several takes of a voice the proposed one is mixed. */
  readonly rule?: AssignRule | undefined;
  /** Voices whose clips are named by hand. */
  readonly byHand?: readonly NamedVoice[] | undefined;
  /** The takes that a clip holds are takes of their own. */
  readonly apart?: boolean | undefined;
  readonly outFolder: string;
  readonly guide?: string | undefined;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  /** How hard to clean; absent: the noise stays. */
  readonly character?: 'gentle' | 'even' | 'firm' | undefined;
  /** Part of the name of the voice that leads. */
  readonly lead?: string | undefined;
  /** Form of mix.wav; 24 bit when absent. */
  readonly wave?: WrittenFormat | undefined;
  /** A copy for upload, cut to the music. */
  readonly copy?: EncodedFormat | undefined;
  readonly title?: string | undefined;
  readonly signal: AbortSignal;
  /** Called at each step with its name; the function it gives takes fractions 0 to 1. */
  readonly onStep: (step: string) => (fraction: number) => void;
}

/**
 * The main job: takes clips in, cleans them, lines them up, balances them and mixes them down into a folder. The folder
 * gets all or nothing; the clips are only read. A folder whose session is
 * open elsewhere is refused. Throws PartsongError or CancelledError.
 */
export async function mixClips(options: MixOptions): Promise<{ report: Report; folder: string }> {
  const { clips: named, twice } = withoutRepeats(options.clips);
  const voices = assignClips(named, options.rule ?? { by: 'clip' }, options.byHand);
  const clips = voices.flatMap((voice) => voice.clips);
  if (clips.length === 0) throw noClips();
  const roles = rolesOf(
    voices.map((voice) => `${voice.name} (${basename(voice.clips[0]!)})`),
    options.lead,
  );
  const files = renderFiles(stemNamesOf(clips.map((clip) => takeNameOf(clip, null))), options.copy ?? null);
  const sources = options.guide === undefined ? clips : [...clips, options.guide];
  await refuseSources(
    files.map((name) => join(options.outFolder, name)),
    sources,
  );
  const folder = await RenderFolder.open(options.outFolder, files);
  let kept = false;
  let desk: Desk | undefined;
  let lock: SessionLock | undefined;
  try {
    lock = await SessionLock.take(folder.target, 'the mix of a command line');
    desk = Desk.create(folder.target, options.title ?? basename(folder.target));
    const report = await mixInto(folder, desk, { ...options, clips }, voices, roles, twice);
    await folder.keep();
    kept = true;
    await keepGuide(desk, options.guide);
    await desk.save();
    return { report, folder: folder.target };
  } catch (error) {
    throw workFault(error, folder.target);
  } finally {
    await desk?.close();
    await lock?.release();
    if (!kept) await folder.abandon();
  }
}

/** The guide's score goes into the session's folder, for what comes after the mix. */
async function keepGuide(desk: Desk, guide: string | undefined): Promise<void> {
  const kept = desk.session.guide;
  if (guide === undefined || kept?.plan == null) return;
  const beside = await guideFileBeside(guide);
  if (beside !== undefined) await keepGuideFile(desk.folder, kept.clip.fingerprint, beside);
}

async function mixInto(
  folder: RenderFolder,
  desk: Desk,
  options: MixOptions,
  voices: readonly AssignedVoice[],
  roles: readonly Session['voices'][number]['role'][],
  twice: readonly string[],
): Promise<Report> {
  const { signal, onStep, clips } = options;
  const { cache, pool } = desk;
  const count = countOf(clips.length);
  const listening = { signal, onProgress: onStep(`Listening to ${count}`) };
  const { takes: taken, guide } = await takeInWithGuide(clips, options.guide, cache, pool, listening);
  const guideFile = await guideFileOf(guide);
  const plan = keptPlanOf(guideFile.file);
  const attempts = await attemptsOf(voices, taken, options.apart === true, cache, pool, { signal });
  const found = await lineUpTaken(
    attempts.map((attempt) => attempt.taken),
    guide,
    pool,
    { signal, plan, onProgress: onStep(`Lining up ${countOf(attempts.length)}`) },
  );
  const all = found.map(keptPlacement);
  const choice = await chosenOf(attempts, all, guideFile.file, cache, pool, { signal, onStep });
  fillMixSession(desk, options, { voices, roles, attempts, placements: all, chosen: choice.indices, guide, plan });
  const chosen = choice.indices.map((index) => attempts[index]!);
  if (chosen.length < attempts.length)
    await folder.refuse(renderFiles(stemNamesOf(chosen.map(({ name }) => name)), null));
  const takes = chosen.map((attempt) => attempt.taken);
  const placements = choice.indices.map((index) => all[index]!);
  const expected = placements.map((placement) => expectedSilence(plan, placement));
  const cleaned =
    options.character === undefined
      ? takes.map(() => undefined)
      : await cleanTaken(takes, { character: options.character, rule: 'lsa', expected }, cache, pool, {
          signal,
          onProgress: onStep(`Cleaning ${count}`),
        });
  const loudness = await measureTaken(
    takes.map((take, index) => ({
      key: cleaned[index]?.key ?? take.key,
      soundPath: cleaned[index]?.soundPath ?? take.soundPath,
      rateHz: take.rateHz,
    })),
    cache,
    pool,
    { signal, onProgress: onStep(`Measuring ${count}`) },
  );
  const { session } = desk;
  const blended = blend(
    session.voices.map((voice, index) => ({
      voice,
      loudness: loudness[index]!,
      placement: placements[index]!,
    })),
  );
  const parts = session.voices.map((voice, index) => ({
    voice,
    take: session.takes.find(({ id }) => id === voice.chosenTakeId)!,
    taken: takes[index]!,
    cleaned: cleaned[index],
    placement: placements[index]!,
    blended: blended[index]!,
  }));
  const lengthFrames = sessionLength(parts);
  const { report } = await renderMix(
    folder,
    {
      title: session.title,
      parts,
      lengthFrames,
      span: mixSpan(session.voices, blended, lengthFrames / SESSION_RATE_HZ) ?? null,
      targetLufs: options.targetLufs,
      ceilingDbtp: options.ceilingDbtp,
      wave: options.wave ?? 'pcm24',
      copy: options.copy ?? null,
      stems: true,
      notes: [...twice.map((file) => `${file} was named twice and is used once.`), ...choice.notes, ...guideFile.notes],
    },
    pool,
    { signal, onStep },
  );
  return report;
}

/** The clips without those named a second time, and the names of those. */
function withoutRepeats(clips: readonly string[]): { clips: string[]; twice: string[] } {
  const seen = new Set<string>();
  const kept: string[] = [];
  const twice: string[] = [];
  for (const clip of clips) {
    const path = resolve(clip);
    if (seen.has(path)) twice.push(basename(clip));
    else kept.push(clip);
    seen.add(path);
  }
  return { clips: kept, twice };
}
