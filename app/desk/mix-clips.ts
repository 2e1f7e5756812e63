import { mkdir } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import type { Report } from '../../core/session/report.ts';
import type { Placement, Session } from '../../core/session/schema.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { EncodedFormat } from '../media/encode.ts';
import type { StemResult } from '../work/tasks/stem.ts';
import { type BlendedVoice, blend, mixSpan } from './blend.ts';
import { type CleanedTake, cleanTaken } from './clean-taken.ts';
import { Desk } from './desk.ts';
import { lineUpTaken } from './line-up-clips.ts';
import { writeReport } from './mix-report.ts';
import { bareName, rolesOf, uniqueNames, voiceNameOf } from './names.ts';
import { keptPlacement } from './placement.ts';
import { RenderFolder } from './render-folder.ts';
import { refuseSources } from './source-guard.ts';
import type { TakenIn } from './take-in.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';
import { uploadCopy } from './upload-copy.ts';
import { workFault } from './work-fault.ts';

export interface MixOptions {
  /** One clip a voice, top voice first. */
  readonly clips: readonly string[];
  readonly outFolder: string;
  readonly guide?: string | undefined;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  /** How hard to clean; absent: the noise stays. */
  readonly character?: 'gentle' | 'even' | 'firm' | undefined;
  /** Part of the name of the voice that leads. */
  readonly lead?: string | undefined;
  /** A copy for upload, cut to the music. */
  readonly copy?: EncodedFormat | undefined;
  readonly title?: string | undefined;
  readonly signal: AbortSignal;
  /** Called at each step with its name; the function it gives takes fractions 0 to 1. */
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** Everything a mix has come to know, for the report. */
export interface MixState {
  readonly options: MixOptions;
  readonly session: Session;
  readonly takes: readonly TakenIn[];
  readonly cleaned: readonly (CleanedTake | undefined)[];
  readonly placements: readonly Placement[];
  readonly stemNames: readonly string[];
  readonly stems: readonly StemResult[];
  readonly voices: readonly BlendedVoice[];
  readonly lengthFrames: number;
  readonly notes: readonly string[];
}

/**
 * The main job: takes clips in, cleans them, lines them up, balances them and mixes them down into a folder. The folder
 * gets all or nothing; the clips are only read. Throws PartsongError or CancelledError.
 */
export async function mixClips(options: MixOptions): Promise<{ report: Report; folder: string }> {
  const { clips, twice } = withoutRepeats(options.clips);
  const names = clips.map(voiceNameOf);
  const roles = rolesOf(
    names.map((name, index) => `${name} (${basename(clips[index]!)})`),
    options.lead,
  );
  const stemNames = uniqueNames(clips.map(bareName)).map((name) => `${name}.wav`);
  const files = ['mix.wav', ...stemNames.map((name) => join('stems', name))];
  if (options.copy !== undefined) files.push(`mix-upload.${options.copy}`);
  const sources = options.guide === undefined ? clips : [...clips, options.guide];
  await refuseSources(
    files.map((name) => join(options.outFolder, name)),
    sources,
  );
  const folder = await RenderFolder.open(options.outFolder, files);
  let kept = false;
  let desk: Desk | undefined;
  try {
    desk = Desk.create(folder.target, options.title ?? basename(folder.target));
    const report = await mixInto(folder, desk, { ...options, clips }, names, roles, stemNames, twice);
    await folder.keep();
    kept = true;
    await desk.save();
    return { report, folder: folder.target };
  } catch (error) {
    throw workFault(error, folder.target);
  } finally {
    await desk?.close();
    if (!kept) await folder.abandon();
  }
}

async function mixInto(
  folder: RenderFolder,
  desk: Desk,
  options: MixOptions,
  names: readonly string[],
  roles: readonly Session['voices'][number]['role'][],
  stemNames: readonly string[],
  twice: readonly string[],
): Promise<Report> {
  const { signal, onStep, clips } = options;
  const { cache, pool } = desk;
  const count = clips.length === 1 ? 'the take' : `${clips.length} takes`;
  const listening = { signal, onProgress: onStep(`Listening to ${count}`) };
  const { takes, guide } = await takeInWithGuide(clips, options.guide, cache, pool, listening);
  const found = await lineUpTaken(takes, guide, pool, {
    signal,
    onProgress: onStep(`Lining up ${count}`),
  });
  const placements = found.map(keptPlacement);
  fillSession(desk, options, takes, guide, placements, names, roles);
  const cleaned =
    options.character === undefined
      ? takes.map(() => undefined)
      : await cleanTaken(takes, { character: options.character, rule: 'lsa' }, cache, pool, {
          signal,
          onProgress: onStep(`Cleaning ${count}`),
        });
  const lengthFrames = sessionLength(takes, placements);
  await mkdir(folder.path('stems'));
  const stems = await pool.runAll(
    'stem',
    takes.map((take, index) => ({
      soundPath: cleaned[index]?.soundPath ?? take.soundPath,
      rateHz: take.rateHz,
      offsetSec: placements[index]!.offsetSec,
      driftPpm: placements[index]!.driftPpm,
      lengthFrames,
      target: folder.path('stems', stemNames[index]!),
      description: `${desk.session.title}: ${names[index]}`,
    })),
    { signal, onProgress: onStep(`Laying ${count} on the time line`) },
  );
  const voices = blend(desk.session.voices, stems, placements);
  const span = mixSpan(voices, lengthFrames / SESSION_RATE_HZ) ?? null;
  const mix = await pool.run(
    'mixdown',
    {
      voices: voices.map(({ strip }, index) => ({ stemPath: folder.path('stems', stemNames[index]!), strip })),
      lengthFrames,
      span,
      targetLufs: options.targetLufs,
      ceilingDbtp: options.ceilingDbtp,
      target: folder.path('mix.wav'),
      busPath: folder.path('bus.f32'),
    },
    { signal, onProgress: onStep('Mixing') },
  );
  const copies =
    options.copy === undefined
      ? []
      : [
          await uploadCopy(folder.path('mix.wav'), folder.path(`mix-upload.${options.copy}`), {
            format: options.copy,
            span,
            title: desk.session.title,
            ceilingDbtp: options.ceilingDbtp,
            signal,
            onProgress: onStep('Writing the copy for upload'),
          }),
        ];
  const notes = twice.map((file) => `${file} was named twice and is used once.`);
  const session = desk.session;
  const state = { options, session, takes, cleaned, placements, stemNames, stems, voices, lengthFrames, notes };
  return writeReport(folder, state, mix, span, copies);
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

function fillSession(
  desk: Desk,
  options: MixOptions,
  takes: readonly TakenIn[],
  guide: TakenIn | undefined,
  placements: readonly Placement[],
  names: readonly string[],
  roles: readonly Session['voices'][number]['role'][],
): void {
  const refOf = (take: TakenIn) => ({
    path: desk.keptPath(take.file),
    sizeBytes: take.sizeBytes,
    fingerprint: take.fingerprint,
  });
  desk.apply({ kind: 'setTarget', targetLufs: options.targetLufs, ceilingDbtp: options.ceilingDbtp });
  if (guide !== undefined) desk.apply({ kind: 'setGuide', clip: refOf(guide) });
  takes.forEach((take, index) => {
    const voiceId = `voice-${index + 1}`;
    const takeId = `take-${index + 1}`;
    desk.apply({
      kind: 'together',
      label: `Add ${names[index]}`,
      edits: [
        {
          kind: 'addVoice',
          voice: {
            id: voiceId,
            name: names[index]!.slice(0, 200),
            role: roles[index]!,
            colour: index % 6,
            trimDb: 0,
            placeDeg: null,
            muted: false,
            chosenTakeId: null,
          },
        },
        {
          kind: 'addTake',
          take: {
            id: takeId,
            name: bareName(take.file).slice(0, 200),
            voiceId,
            clip: refOf(take),
            silence: null,
            clean: {
              on: options.character !== undefined,
              character: options.character ?? 'even',
              rule: 'lsa',
              fine: null,
            },
            placement: placements[index]!,
          },
        },
        { kind: 'chooseTake', voiceId, takeId },
      ],
    });
  });
}

/** Session frames until the last take has ended. */
function sessionLength(takes: readonly TakenIn[], placements: readonly Placement[]): number {
  const ends = takes.map((take, index) => {
    const { offsetSec, driftPpm } = placements[index]!;
    return offsetSec + take.lengthFrames / (take.rateHz * (1 + driftPpm * 1e-6));
  });
  return Math.max(1, Math.ceil(Math.max(...ends) * SESSION_RATE_HZ));
}
