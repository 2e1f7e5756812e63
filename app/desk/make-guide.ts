import { mkdir, writeFile } from 'node:fs/promises';
import { basename, extname, join } from 'node:path';
import type { Part, Score } from '../../core/guide/score.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { targetFault, writeWhole } from '../media/whole-file.ts';
import { usualThreads } from '../work/pool.ts';
import { type GuideFile, guideFileText } from './guide-file.ts';
import { pieceOf, planned, withMarks } from './guide-piece.ts';
import type { MakeGuideOptions } from './guide-request.ts';
import { type Piece, soundSettings, type Version, writeSound } from './guide-version.ts';
import { uniqueNames } from './names.ts';
import { partNamed, readSession, takesNamed, takesOfSession } from './own-takes.ts';
import { ownVoices } from './play-along.ts';
import { recordingPlan } from './report/recording-plan.ts';
import { withScratch } from './scratch.ts';
import { refuseSources } from './source-guard.ts';

export interface MadeGuide {
  readonly folder: string;
  readonly title: string;
  readonly files: readonly { readonly file: string; readonly voice: string | null; readonly lengthSec: number }[];
  readonly silence: { readonly fromSec: number; readonly toSec: number };
  readonly claps: readonly { readonly atSec: number; readonly at: 'start' | 'end' }[];
  readonly musicFromSec: number;
  readonly musicToSec: number;
  readonly bars: number;
  readonly voices: readonly string[];
  /** Those of them that sound by a recorded take. */
  readonly played: readonly string[];
  readonly plan: string;
  readonly notes: readonly string[];
}

/**
 * Makes guides for the phone: the sound, beside each a `.guide.json` that tells later steps where everything lies, and the
 * printable recording plan. Files appear whole or not at all. Throws PartsongError or CancelledError.
 */
export async function makeGuide(options: MakeGuideOptions): Promise<MadeGuide> {
  const session = options.session === undefined ? undefined : await readSession(options.session);
  const score = withMarks(await pieceOf(options, session), options);
  const plan = planned(score, options);
  const notes = [...score.notes];
  const byName = takesNamed(score, options.with ?? []);
  const bySession = session === undefined ? [] : takesOfSession(session, score, plan, notes);
  // Who is named by hand takes the place of the session's take.
  const takes = [...byName, ...bySession.filter(({ part }) => !byName.some((one) => one.part.id === part.id))];
  if (takes.length === 0) return writeGuides({ score, plan, own: [] }, [], options, notes);
  const { signal, onStep } = options;
  return withScratch(Math.min(takes.length, usualThreads()), async (cache, pool) => {
    const sound = soundSettings({ name: '', part: null }, options);
    const own = await ownVoices(takes, { score, plan, sound, cache, pool, signal, onStep, notes });
    const sources = takes.map((take) => take.clip);
    return writeGuides({ score, plan, own }, sources, options, notes);
  });
}

async function writeGuides(
  piece: Piece,
  clips: readonly string[],
  options: MakeGuideOptions,
  notes: readonly string[],
): Promise<MadeGuide> {
  const { score, plan } = piece;
  const { outFolder, signal } = options;
  const wanted = versionsOf(score, options);
  await mkdir(outFolder, { recursive: true }).catch((error: unknown) => {
    throw targetFault(error, outFolder, outFolder);
  });
  const names = uniqueNames(wanted.map((one) => one.name));
  const planFile = join(outFolder, 'recording-plan.html');
  const targets = names.flatMap((name) => options.formats.map((format) => join(outFolder, `${name}.${format}`)));
  await refuseSources([...targets, planFile], [...clips, ...(options.score === undefined ? [] : [options.score])]);
  const files: MadeGuide['files'][number][] = [];
  for (const [index, version] of wanted.entries()) {
    for (const format of options.formats) {
      const target = join(outFolder, `${names[index]}.${format}`);
      await writeSound(target, format, piece, version, options);
      files.push({
        file: basename(target),
        voice: version.part?.name ?? null,
        lengthSec: plan.lengthFrames / SESSION_RATE_HZ,
      });
    }
    const guide: GuideFile = { title: score.title, plan, settings: options.settings, score };
    await writeText(join(outFolder, `${names[index]}.guide.json`), guideFileText(guide), signal);
  }
  await writeText(planFile, recordingPlan(score, plan, options.settings, files), signal);
  return {
    folder: outFolder,
    title: score.title,
    files,
    silence: { fromSec: seconds(plan.silence.fromFrame), toSec: seconds(plan.silence.toFrame) },
    claps: plan.cues.map((cue) => ({ atSec: seconds(cue.clapFrame), at: cue.at })),
    musicFromSec: seconds(plan.musicFrame),
    musicToSec: seconds(plan.musicEndFrame),
    bars: plan.bars.length,
    voices: score.parts.map((part) => part.name),
    played: score.parts.filter((part) => piece.own.some((one) => one.partId === part.id)).map((part) => part.name),
    plan: basename(planFile),
    notes,
  };
}

function versionsOf(score: Score, options: MakeGuideOptions): Version[] {
  const base = options.score === undefined ? 'guide' : `${basename(options.score, extname(options.score))}-guide`;
  const all: Version = { name: base, part: null };
  const { forVoice } = options;
  if (forVoice === undefined) return [all];
  const own = (part: Part): Version => ({
    name: `${base}-${part.name.replace(/[^\p{L}\p{N} ._-]+/gu, ' ').trim() || part.id}`,
    part,
  });
  if (forVoice === 'all') return [all, ...score.parts.map(own)];
  return [own(partNamed(score, forVoice))];
}

async function writeText(target: string, text: string, signal: AbortSignal): Promise<void> {
  await writeWhole(target, (path) => writeFile(path, text), signal);
}

function seconds(frame: number): number {
  return frame / SESSION_RATE_HZ;
}
