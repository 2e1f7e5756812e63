import { stat } from 'node:fs/promises';
import { extname } from 'node:path';
import type { EncodeSpeed, PictureContainer, VideoEncoder } from '../../core/picture/output-arguments.ts';
import { commandText, pictureArguments } from '../../core/picture/picture-command.ts';
import type { PictureDesign, SessionSpan } from '../../core/picture/picture-design.ts';
import type { PicturePlan, VoicePicture } from '../../core/picture/picture-plan.ts';
import { rateText } from '../../core/picture/picture-rate.ts';
import { planPicture } from '../../core/picture/plan-picture.ts';
import { matchTones, type ToneChange, type ToneMeasure } from '../../core/picture/tone-match.ts';
import { levelForReport } from '../../core/session/report.ts';
import { sessionPictures } from '../../core/session/voice-pictures.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { refuseTargets } from '../desk/source-guard.ts';
import { findFfmpeg } from '../media/ffmpeg.ts';
import { chooseEncoder, filtersOfFfmpeg } from './abilities.ts';
import { type GivenMoments, withGivenMoments } from './given-moments.ts';
import { measureTone } from './measure-tone.ts';
import { type CodedSound, levelInSentence, measureSound, settleCodedSound } from './mix-sound.ts';
import { drawingName, type PictureProgress, renderPicture } from './render-picture.ts';
import {
  drawnPeaks,
  type MixedSession,
  pictureOfTake,
  readMixedSession,
  type SeenTake,
  takesSeen,
} from './session-pictures.ts';
import { refuseStillName, writeStill } from './stills.ts';
import { spanOf, type Trim } from './trim.ts';

export interface PictureSessionOptions {
  /** The session's folder, or its session.json. */
  readonly session: string;
  /** .mp4 for uploads, .mkv for a master. */
  readonly target: string;
  /** Made from the session, once it is known. */
  readonly design: (session: MixedSession['session']) => PictureDesign;
  /** What tiles do at times, besides what the design has. */
  readonly moments?: ((session: MixedSession['session']) => GivenMoments) | undefined;
  /** Absent: what the session says, else the music. */
  readonly trim: Trim | undefined;
  /** Brings exposure and white balance of the clips nearer to one another. */
  readonly matchTones?: boolean | undefined;
  readonly encoder: VideoEncoder | 'hardware';
  readonly speed: EncodeSpeed;
  /** A still for the cover, .jpg or .png. */
  readonly cover?: { readonly target: string; readonly atSec: number | undefined } | undefined;
  readonly signal: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
  readonly onPicture?: ((progress: PictureProgress) => void) | undefined;
}

/** What a video came to: the shape of `--json`. Times in s. */
export interface PictureReport {
  readonly format: 'partsong-picture';
  readonly version: 1;
  readonly file: string;
  readonly canvas: { readonly widthPx: number; readonly heightPx: number };
  readonly rate: string;
  /** 'hand': it was given; 'clips': the fastest clip's; 'sync': higher, so that every tile keeps within 10 ms of its sound. */
  readonly rateBy: PicturePlan['rateBy'];
  readonly pictures: number;
  readonly lengthSec: number;
  /** Session time of the first picture. */
  readonly fromSec: number;
  readonly tiles: readonly {
    readonly voice: string;
    readonly kind: 'clip' | 'drawn';
    readonly box: PicturePlan['tiles'][number]['box'];
    readonly worstOffsetMs: number;
  }[];
  readonly quality: PicturePlan['quality'];
  /** Measured on the sound of the file, decoded. */
  readonly sound: {
    readonly integratedLufs: number | null;
    readonly truePeakDbtp: number | null;
    readonly lengthSec: number;
    /** How much lower than the mix, dB, so that coding keeps the ceiling; below 0 where coding had made it quieter. */
    readonly loweredDb: number;
    readonly loweredFor: CodedSound['why'];
  };
  readonly encoder: string;
  readonly sizeBytes: number;
  readonly tookSec: number;
  readonly cover: string | null;
  readonly notes: readonly string[];
}

/** A session's video, planned; nothing has been written. */
export interface PlannedSession {
  readonly mixed: MixedSession;
  readonly takes: ReadonlyMap<string, SeenTake>;
  readonly plan: PicturePlan;
  readonly container: PictureContainer;
  readonly span: SessionSpan;
  /** The same with another level of its sound, dB; nothing is looked at again. */
  readonly atGain: (gainDb: number) => PicturePlan;
}

/** The kind of file a name asks for. Throws PartsongError 'bad-option'. */
export function containerOf(target: string): PictureContainer {
  const ending = extname(target).toLowerCase();
  if (ending === '.mp4' || ending === '.m4v') return 'mp4';
  if (ending === '.mkv') return 'mkv';
  throw new PartsongError(
    'bad-option',
    `${target} is no name for a video: its ending says neither MP4 nor Matroska.`,
    'Let it end in .mp4 (for uploads) or .mkv (a master with lossless sound).',
    target,
  );
}

/** Looks at a session and plans its video. Everything that can go wrong before rendering does so here. */
export async function planSession(options: PictureSessionOptions): Promise<PlannedSession> {
  const { signal } = options;
  const container = containerOf(options.target);
  if (options.cover !== undefined) refuseStillName(options.cover.target);
  const mixed = await readMixedSession(options.session, signal);
  const span = spanOf(options.trim, mixed);
  const takes = await takesSeen(mixed, signal);
  const targets = [options.target, ...(options.cover === undefined ? [] : [options.cover.target])];
  await refuseTargets(targets, [mixed.mixPath, ...[...takes.values()].map(({ clipPath }) => clipPath)]);
  const { voices, unseen } = sessionPictures(mixed.session, span, pictureOfTake(takes));
  const peaks = await drawnPeaks(mixed, voices, span, signal);
  const isMatched = options.matchTones ?? mixed.session.picture?.matched ?? false;
  const tones = isMatched ? await tonesOf(voices, signal) : [];
  const design = await designFor(options, mixed, takes);
  const filters = await filtersOfFfmpeg();
  const seen = voices.map((voice, index) => ({
    ...voice,
    peaks: peaks.get(voice.voiceId) ?? [],
    tone: tones[index] ?? null,
  }));
  const atGain = (gainDb: number): PicturePlan => {
    const sound = { file: mixed.mixPath, rateHz: mixed.mix.chosenAudio.rateHz, startSec: 0, gainDb };
    const plan = planPicture({ design, voices: seen, span, sound, filters });
    return { ...plan, notes: [...unseen.map(({ name, why }) => `${name} is not seen: ${why}.`), ...plan.notes] };
  };
  return { mixed, takes, plan: atGain(0), container, span, atGain };
}

function designFor(
  options: PictureSessionOptions,
  mixed: MixedSession,
  takes: ReadonlyMap<string, SeenTake>,
): Promise<PictureDesign> {
  const design = options.design(mixed.session);
  const given = options.moments?.(mixed.session);
  return given === undefined ? Promise.resolve(design) : withGivenMoments(design, given, mixed, takes, options.signal);
}

/** Each voice's first clip stands for it: its takes were filmed in one light. */
async function tonesOf(voices: readonly VoicePicture[], signal: AbortSignal): Promise<(ToneChange | null)[]> {
  const measures: (ToneMeasure | null)[] = [];
  for (const { pieces } of voices) {
    const first = pieces.find(({ picture }) => picture !== null)?.picture;
    measures.push(first ? await measureTone(first, signal) : null);
  }
  return matchTones(measures);
}

/** The command that would make the video, for people; drawings are named by what they will be called. */
export async function planText(planned: PlannedSession, options: PictureSessionOptions): Promise<string> {
  const { plan, container, mixed } = planned;
  const { path } = await findFfmpeg();
  const encoder = await chooseEncoder(options.encoder);
  const drawings = plan.drawings.map(({ kind }, index) => `DRAWINGS/${drawingName(index, kind)}`);
  const output = { container, encoder, speed: options.speed, title: mixed.session.title };
  return commandText(path, pictureArguments(plan, drawings, output), options.target);
}

/**
 * Makes the video of a session: settles the sound's level, renders, and measures the file. The target is whole or not
 * there. Throws PartsongError or CancelledError.
 */
export async function pictureSession(options: PictureSessionOptions): Promise<PictureReport> {
  const { signal, onStep, target } = options;
  onStep('Looking at the clips')(0);
  const encoder = await chooseEncoder(options.encoder);
  const planned = await planSession(options);
  const coded = await settle(planned, options);
  const { container, mixed } = planned;
  const plan = coded === undefined || coded.gainDb === 0 ? planned.plan : planned.atGain(coded.gainDb);
  const progress = onStep(`Rendering ${plan.pictures} pictures`);
  const output = { container, encoder, speed: options.speed, title: mixed.session.title };
  const rendered = await renderPicture(plan, target, {
    output,
    signal,
    onProgress: (state) => {
      if (options.onPicture === undefined) progress(state.picture / state.pictures);
      else options.onPicture(state);
    },
  });
  onStep('Measuring the file')(0);
  const measure = await measureSound(target, signal);
  if (options.cover !== undefined) {
    const atSec = Math.min(options.cover.atSec ?? plan.lengthSec / 3, plan.lengthSec - 0.1);
    await writeStill(target, Math.max(0, atSec), options.cover.target, signal);
  }
  return {
    format: 'partsong-picture',
    version: 1,
    file: target,
    canvas: plan.canvas,
    rate: rateText(plan.rate),
    rateBy: plan.rateBy,
    pictures: plan.pictures,
    lengthSec: plan.lengthSec,
    fromSec: plan.fromSec,
    tiles: plan.tiles.map(({ name, kind, box, worstOffsetSec }) => ({
      voice: name,
      kind,
      box,
      worstOffsetMs: Math.round(worstOffsetSec * 10_000) / 10,
    })),
    quality: plan.quality,
    sound: {
      integratedLufs: levelForReport(measure.integratedLufs),
      truePeakDbtp: levelForReport(measure.truePeakDbtp),
      lengthSec: measure.lengthSec,
      loweredDb: coded === undefined ? 0 : -coded.gainDb,
      loweredFor: coded?.why ?? null,
    },
    encoder,
    sizeBytes: (await stat(target)).size,
    tookSec: rendered.tookSec,
    cover: options.cover?.target ?? null,
    notes: [...plan.notes, ...soundNotes(coded, mixed), ...rendered.complaints.map((line) => `FFmpeg said: ${line}`)],
  };
}

async function settle(planned: PlannedSession, options: PictureSessionOptions): Promise<CodedSound | undefined> {
  const { plan, container, mixed } = planned;
  if (container !== 'mp4' || plan.sound === null) return undefined;
  return settleCodedSound(mixed.mixPath, {
    ...plan.sound,
    ceilingDbtp: mixed.report?.ceilingDbtp ?? mixed.session.mix.ceilingDbtp,
    signal: options.signal,
    onProgress: options.onStep('Coding the sound'),
  });
}

function soundNotes(coded: CodedSound | undefined, mixed: MixedSession): string[] {
  const note = coded && levelInSentence(coded, mixed.report?.ceilingDbtp ?? mixed.session.mix.ceilingDbtp);
  return note === undefined ? [] : [note];
}
