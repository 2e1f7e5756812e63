import { mkdir, writeFile } from 'node:fs/promises';
import { basename, extname, join } from 'node:path';
import { type GuidePlan, type GuideSettings, planGuide } from '../../core/guide/guide-plan.ts';
import { GuideSound, type GuideSoundSettings } from '../../core/guide/guide-sound.ts';
import { atTempo, plainScore } from '../../core/guide/plain-score.ts';
import type { Part, Score } from '../../core/guide/score.ts';
import type { Temperament } from '../../core/guide/temperament.ts';
import { type AskedHold, type Ritardando, withHold, withRitardando } from '../../core/guide/tempo-marks.ts';
import type { Block } from '../../core/signal/block.ts';
import { PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { encodeAudio } from '../media/encode.ts';
import { targetFault, writeWhole } from '../media/whole-file.ts';
import { readScore } from '../score/read-score.ts';
import { usualThreads } from '../work/pool.ts';
import { type GuideFile, guideFileText, keptGuideFile } from './guide-file.ts';
import { writeGuideVideo, writeMono } from './guide-video.ts';
import { uniqueNames } from './names.ts';
import { partNamed, readSession, takesNamed, takesOfSession } from './own-takes.ts';
import { OwnVoicesMix } from './own-voices-mix.ts';
import { type OwnVoice, ownVoices } from './play-along.ts';
import { recordingPlan } from './report/recording-plan.ts';
import { withScratch } from './scratch.ts';
import { refuseSources } from './source-guard.ts';

export type GuideFormat = 'wav' | 'flac' | 'm4a' | 'mp3' | 'mp4';

export interface MakeGuideOptions {
  /** MIDI or MusicXML; absent: a click over `bars` bars. */
  readonly score?: string | undefined;
  readonly outFolder: string;
  readonly title?: string | undefined;
  /** Quarters per minute; absent: what the score says, else 90. */
  readonly quartersPerMinute?: number | undefined;
  /** Changes of tempo and fermatas beside those of the score. */
  readonly ritardandi?: readonly Ritardando[];
  readonly holds?: readonly AskedHold[];
  readonly metre: { readonly beats: number; readonly unit: number };
  readonly bars: number;
  readonly settings: GuideSettings;
  readonly temperament: Temperament;
  readonly tonic: number;
  readonly clickDb: number;
  readonly droneKey: number | null;
  /** 'all': one guide a voice and one for all; part of a voice's name: that voice's; absent: one guide. */
  readonly forVoice?: string | undefined;
  /** Takes recorded already that sound in place of the mock-up of a voice (part of its name). */
  readonly with?: readonly { readonly voice: string; readonly clip: string }[];
  /** A session whose chosen takes sound in place of the mock-up of the voices of the same names; its score serves without another. */
  readonly session?: string | undefined;
  /** How the player's own voice sounds among the others, dB; -Infinity leaves it out. */
  readonly ownDb: number;
  readonly formats: readonly GuideFormat[];
  readonly signal: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
}

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

const BLOCK_FRAMES = 16384;
const USUAL_TEMPO = 90;
const PHONE_KBPS = 192;

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

/** What a guide is made of. */
interface Piece {
  readonly score: Score;
  readonly plan: GuidePlan;
  readonly own: readonly OwnVoice[];
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

async function pieceOf(
  options: MakeGuideOptions,
  session: Awaited<ReturnType<typeof readSession>> | undefined,
): Promise<Score> {
  const { score: file, quartersPerMinute, metre, bars, title } = options;
  const kept = file === undefined && session !== undefined ? await scoreOf(session) : undefined;
  if (file === undefined && kept === undefined) {
    return plainScore({ title: title ?? 'Guide', quartersPerMinute: quartersPerMinute ?? USUAL_TEMPO, ...metre, bars });
  }
  const read = kept ?? (await readScore(file!));
  const named = title === undefined ? read : { ...read, title };
  return quartersPerMinute === undefined ? named : atTempo(named, quartersPerMinute);
}

/** The score of the guide a session was played to. Throws PartsongError 'bad-option' where it has none. */
async function scoreOf({ session, folder }: Awaited<ReturnType<typeof readSession>>): Promise<Score> {
  const { guide } = session;
  const kept = guide === null ? undefined : await keptGuideFile(folder, guide.clip.fingerprint);
  if (kept !== undefined) return kept.score;
  throw new PartsongError(
    'bad-option',
    `The session ${folder} has no guide whose score is known.`,
    'Name the score: partsong guide SCORE --session DIR --out DIR.',
    folder,
  );
}

function withMarks(score: Score, options: MakeGuideOptions): Score {
  try {
    return (options.holds ?? []).reduce(withHold, (options.ritardandi ?? []).reduce(withRitardando, score));
  } catch (cause) {
    if (!(cause instanceof RangeError)) throw cause;
    throw new PartsongError(
      'bad-option',
      `The guide cannot be made: ${cause.message}.`,
      'Bars are counted as they are played, the first full one is 1.',
      options.score,
      { cause },
    );
  }
}

/** What cannot be planned (a tempo out of range after scaling) is the user's to change. */
function planned(score: Score, options: MakeGuideOptions): GuidePlan {
  try {
    return planGuide(score, options.settings);
  } catch (cause) {
    if (!(cause instanceof RangeError)) throw cause;
    throw new PartsongError(
      'bad-option',
      `The guide cannot be made: ${cause.message}.`,
      'Change the tempo or the metre.',
      options.score,
      { cause },
    );
  }
}

interface Version {
  readonly name: string;
  readonly part: Part | null;
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

function soundSettings(version: Version, options: MakeGuideOptions): GuideSoundSettings {
  return {
    referenceHz: options.settings.referenceHz,
    temperament: options.temperament,
    tonic: options.tonic,
    partGainsDb: version.part === null ? {} : { [version.part.id]: options.ownDb },
    clickDb: options.clickDb,
    droneKey: options.droneKey,
  };
}

async function writeSound(
  target: string,
  format: GuideFormat,
  piece: Piece,
  version: Version,
  options: MakeGuideOptions,
): Promise<void> {
  const { signal } = options;
  const onProgress = options.onStep(`Writing ${basename(target)}`);
  const { title } = piece.score;
  if (format === 'mp4') {
    // The sound takes a small part of the time, the picture the rest.
    const blocks = blocksOf(piece, version, options, () => undefined);
    await writeGuideVideo(target, blocks, piece.plan, { title, bitrateKbps: PHONE_KBPS, signal, onProgress });
    return;
  }
  const blocks = blocksOf(piece, version, options, onProgress);
  if (format === 'wav') {
    await writeWhole(target, (path) => writeMono(path, blocks), signal);
    return;
  }
  await encodeAudio({ kind: 'blocks', blocks, rateHz: SESSION_RATE_HZ, channels: 1 }, target, {
    format,
    bitrateKbps: PHONE_KBPS,
    tags: { title: `${title} (guide)` },
    signal,
  });
}

async function* blocksOf(
  { score, plan, own }: Piece,
  version: Version,
  options: MakeGuideOptions,
  onProgress: (fraction: number) => void,
): AsyncGenerator<Block> {
  const settings = soundSettings(version, options);
  const replaced = Object.fromEntries(own.map(({ partId }) => [partId, Number.NEGATIVE_INFINITY]));
  const sound = new GuideSound(score, plan, { ...settings, partGainsDb: { ...settings.partGainsDb, ...replaced } });
  const mix = own.length === 0 ? undefined : new OwnVoicesMix(own, plan, settings.partGainsDb);
  const samples = new Float32Array(BLOCK_FRAMES);
  try {
    for (let from = 0; from < plan.lengthFrames; from += BLOCK_FRAMES) {
      throwIfCancelled(options.signal);
      const block = samples.subarray(0, Math.min(BLOCK_FRAMES, plan.lengthFrames - from));
      sound.next(block);
      yield mix === undefined ? [block] : mix.process(block);
      onProgress(Math.min(1, (from + BLOCK_FRAMES) / plan.lengthFrames));
      // Lets Ctrl-C be heard between blocks.
      await new Promise((resolve) => setImmediate(resolve));
    }
    if (mix !== undefined) yield mix.flush();
  } finally {
    mix?.close();
  }
}

async function writeText(target: string, text: string, signal: AbortSignal): Promise<void> {
  await writeWhole(target, (path) => writeFile(path, text), signal);
}

function seconds(frame: number): number {
  return frame / SESSION_RATE_HZ;
}
