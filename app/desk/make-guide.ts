import { mkdir, writeFile } from 'node:fs/promises';
import { basename, extname, join } from 'node:path';
import { type GuidePlan, type GuideSettings, planGuide } from '../../core/guide/guide-plan.ts';
import { GuideSound, type GuideSoundSettings } from '../../core/guide/guide-sound.ts';
import { atTempo, plainScore } from '../../core/guide/plain-score.ts';
import type { Part, Score } from '../../core/guide/score.ts';
import type { Temperament } from '../../core/guide/temperament.ts';
import type { Block } from '../../core/signal/block.ts';
import { PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { encodeAudio } from '../media/encode.ts';
import { targetFault, writeWhole } from '../media/whole-file.ts';
import { readScore } from '../score/read-score.ts';
import { type GuideFile, guideFileText } from './guide-file.ts';
import { writeGuideVideo, writeMono } from './guide-video.ts';
import { uniqueNames } from './names.ts';
import { recordingPlan } from './report/recording-plan.ts';
import { refuseSources } from './source-guard.ts';

export type GuideFormat = 'wav' | 'flac' | 'm4a' | 'mp3' | 'mp4';

export interface MakeGuideOptions {
  /** MIDI or MusicXML; absent: a click over `bars` bars. */
  readonly score?: string | undefined;
  readonly outFolder: string;
  readonly title?: string | undefined;
  /** Quarters per minute; absent: what the score says, else 90. */
  readonly quartersPerMinute?: number | undefined;
  readonly metre: { readonly beats: number; readonly unit: number };
  readonly bars: number;
  readonly settings: GuideSettings;
  readonly temperament: Temperament;
  readonly tonic: number;
  readonly clickDb: number;
  readonly droneKey: number | null;
  /** 'all': one guide a voice and one for all; part of a voice's name: that voice's; absent: one guide. */
  readonly forVoice?: string | undefined;
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
  const score = await pieceOf(options);
  const plan = planned(score, options);
  const wanted = versionsOf(score, options);
  const { outFolder } = options;
  await mkdir(outFolder, { recursive: true }).catch((error: unknown) => {
    throw targetFault(error, outFolder, outFolder);
  });
  const names = uniqueNames(wanted.map((one) => one.name));
  const planFile = join(outFolder, 'recording-plan.html');
  const targets = names.flatMap((name) => options.formats.map((format) => join(outFolder, `${name}.${format}`)));
  await refuseSources([...targets, planFile], options.score === undefined ? [] : [options.score]);
  const files: MadeGuide['files'][number][] = [];
  for (const [index, version] of wanted.entries()) {
    for (const format of options.formats) {
      const target = join(outFolder, `${names[index]}.${format}`);
      await writeSound(target, format, score, plan, soundOf(score, version, options), options);
      files.push({
        file: basename(target),
        voice: version.part?.name ?? null,
        lengthSec: plan.lengthFrames / SESSION_RATE_HZ,
      });
    }
    const guide: GuideFile = { title: score.title, plan, settings: options.settings, score };
    await writeText(join(outFolder, `${names[index]}.guide.json`), guideFileText(guide), options.signal);
  }
  await writeText(planFile, recordingPlan(score, plan, options.settings, files), options.signal);
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
    plan: basename(planFile),
    notes: score.notes,
  };
}

async function pieceOf(options: MakeGuideOptions): Promise<Score> {
  const { score: file, quartersPerMinute, metre, bars, title } = options;
  if (file === undefined) {
    return plainScore({ title: title ?? 'Guide', quartersPerMinute: quartersPerMinute ?? USUAL_TEMPO, ...metre, bars });
  }
  const read = await readScore(file);
  const named = title === undefined ? read : { ...read, title };
  return quartersPerMinute === undefined ? named : atTempo(named, quartersPerMinute);
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
  const wanted = forVoice.normalize('NFC').toLowerCase();
  const found = score.parts.filter((part) => part.name.normalize('NFC').toLowerCase().includes(wanted));
  if (found.length === 1) return [own(found[0]!)];
  throw new PartsongError(
    'bad-option',
    `The voice "${forVoice}" is not clear: ${found.length === 0 ? 'no part of the score has that in its name' : `${found.length} parts have it in their names`}.`,
    score.parts.length === 0
      ? 'Name a score; without one the guide is a click and the same for all.'
      : `Name one of these: ${score.parts.map((part) => part.name).join(', ')}; or all.`,
  );
}

function soundOf(score: Score, version: Version, options: MakeGuideOptions): GuideSound {
  const settings: GuideSoundSettings = {
    referenceHz: options.settings.referenceHz,
    temperament: options.temperament,
    tonic: options.tonic,
    partGainsDb: version.part === null ? {} : { [version.part.id]: options.ownDb },
    clickDb: options.clickDb,
    droneKey: options.droneKey,
  };
  return new GuideSound(score, planned(score, options), settings);
}

async function writeSound(
  target: string,
  format: GuideFormat,
  score: Score,
  plan: GuidePlan,
  sound: GuideSound,
  options: MakeGuideOptions,
): Promise<void> {
  const onProgress = options.onStep(`Writing ${basename(target)}`);
  const blocks = blocksOf(sound, plan, options.signal, onProgress);
  if (format === 'wav') {
    await writeWhole(target, (path) => writeMono(path, blocks), options.signal);
    return;
  }
  if (format === 'mp4') {
    const { signal } = options;
    await writeGuideVideo(target, blocks, plan, { title: score.title, bitrateKbps: PHONE_KBPS, signal, onProgress });
    return;
  }
  await encodeAudio({ kind: 'blocks', blocks, rateHz: SESSION_RATE_HZ, channels: 1 }, target, {
    format,
    bitrateKbps: PHONE_KBPS,
    tags: { title: `${score.title} (guide)` },
    signal: options.signal,
  });
}

async function* blocksOf(
  sound: GuideSound,
  plan: GuidePlan,
  signal: AbortSignal,
  onProgress: (fraction: number) => void,
): AsyncGenerator<Block> {
  const samples = new Float32Array(BLOCK_FRAMES);
  for (let from = 0; from < plan.lengthFrames; from += BLOCK_FRAMES) {
    throwIfCancelled(signal);
    const block = samples.subarray(0, Math.min(BLOCK_FRAMES, plan.lengthFrames - from));
    sound.next(block);
    yield [block];
    onProgress(Math.min(1, (from + BLOCK_FRAMES) / plan.lengthFrames));
    // Lets Ctrl-C be heard between blocks.
    await new Promise((resolve) => setImmediate(resolve));
  }
}

async function writeText(target: string, text: string, signal: AbortSignal): Promise<void> {
  await writeWhole(target, (path) => writeFile(path, text), signal);
}

function seconds(frame: number): number {
  return frame / SESSION_RATE_HZ;
}
