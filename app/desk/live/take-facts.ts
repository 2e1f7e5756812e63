import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { levelForReport } from '../../../core/session/report.ts';
import { ratioToDb } from '../../../core/signal/decibels.ts';
import type { CleanFacts, FaultView, SeveralView, TakeFacts } from '../../shell/contract/desk-view.ts';
import type { Peaks } from '../../work/peaks.ts';
import { severalIn } from '../attempts.ts';
import type { MusicFound } from '../blend.ts';
import { UNFIT_SENTENCE } from '../clean-taken.ts';
import { mendNotes } from '../mend-taken.ts';
import type { TakenIn } from '../take-in.ts';
import type { PictureProgress } from './picture-state.ts';
import type { ClipProgress, TakeProgress } from './take-state.ts';

/** A fault for people. */
export type FaultWords = (error: unknown) => FaultView;

/** What is known of a clip, for the screen. */
export function clipFacts(clip: ClipProgress, inWords: FaultWords): TakeFacts {
  const { taken } = clip;
  return {
    takeId: clip.id,
    state: stateOf(clip),
    fault: clip.fault === null ? null : inWords(clip.fault),
    file: clip.file,
    lengthSec: secOf(taken),
    clipSec: secOf(taken),
    part: null,
    several: null,
    rateHz: taken?.rateHz ?? 0,
    codec: taken?.codec ?? '',
    channels: taken?.channels ?? 0,
    hasPicture: taken?.hasPicture ?? false,
    picture: null,
    peakDbfs: taken === undefined ? null : levelForReport(ratioToDb(taken.study.peak)),
    clipped: clip.before?.clipped ?? [],
    silences: taken === undefined ? [] : silencesOf(taken),
    waves: { before: clip.before !== undefined, after: clip.before !== undefined },
    notes: taken?.notes ?? [],
    clean: OFF,
    mended: 'none',
    mendNotes: [],
    integratedLufs: null,
    music: null,
    played: null,
    playable: taken !== undefined,
  };
}

/** What is known of a take, for the screen. plan: of the guide that it was played to. */
export function takeFacts(
  progress: TakeProgress,
  music: MusicFound | undefined,
  inWords: FaultWords,
  picture: PictureProgress | undefined,
  plan: KeptPlan | null,
): TakeFacts {
  return {
    ...clipFacts(progress, inWords),
    clipSec: secOf(progress.clip),
    part: progress.take.part,
    several: progress.take.part === null ? severalOf(progress.clip, plan) : null,
    picture: picture === undefined ? null : pictureView(picture, inWords),
    waves: { before: progress.before !== undefined, after: progress.after !== undefined },
    clean: cleanFacts(progress, inWords),
    mended: progress.mending,
    mendNotes: notesOfMend(progress, inWords),
    integratedLufs: music === undefined ? null : levelForReport(music.integratedLufs),
    music: music?.music ?? null,
    playable: progress.sound !== undefined && progress.take.placement !== null,
  };
}

function notesOfMend({ mended, mending, mendFault }: TakeProgress, inWords: FaultWords): readonly string[] {
  if (mendFault !== null) return [`It is not mended: ${inWords(mendFault).message}`];
  // While it is made anew it sounds as it did, and nothing is known yet of what will come of it.
  return mended === undefined || mending !== 'ready' ? [] : mendNotes(mended.mend, mended.result);
}

function secOf(taken: TakenIn | undefined): number {
  return taken === undefined ? 0 : taken.lengthFrames / taken.rateHz;
}

/** Points of the outline of a clip. */
const OUTLINE_POINTS = 480;

const outlines = new WeakMap<Peaks, number[]>();

function severalOf(clip: TakenIn | undefined, plan: KeptPlan | null): SeveralView | null {
  const parts = clip === undefined ? [] : severalIn(clip, plan);
  if (clip === undefined || parts.length < 2) return null;
  const { peaks } = clip;
  const outline = peaks === null ? [] : (outlines.get(peaks) ?? outlineOf(peaks));
  if (peaks !== null) outlines.set(peaks, outline);
  return { parts, outline };
}

function outlineOf({ lowest, highest }: Peaks): number[] {
  const count = Math.min(OUTLINE_POINTS, highest.length);
  const points = Array.from({ length: count }, (_, n) => {
    const from = Math.floor((n * highest.length) / count);
    const to = Math.max(from + 1, Math.floor(((n + 1) * highest.length) / count));
    let most = 0;
    for (let at = from; at < to; at++) most = Math.max(most, highest[at]!, -lowest[at]!);
    return most;
  });
  // A clap stands far above the music, which is what is to be seen.
  const full = points.toSorted((a, b) => a - b)[Math.floor(0.98 * count)] || 1;
  return points.map((value) => Math.round(1000 * Math.min(1, value / full)) / 1000);
}

function pictureView(picture: PictureProgress, inWords: FaultWords): NonNullable<TakeFacts['picture']> {
  const { clip, codec, plays, proxy, proxyFault } = picture;
  return { clip, codec, plays, proxy, proxyFault: proxyFault === null ? null : inWords(proxyFault).message };
}

function stateOf(clip: ClipProgress): TakeFacts['state'] {
  if (clip.look === 'missing') return 'missing';
  if (clip.look === 'faulty') return 'faulty';
  if (clip.taken !== undefined) return 'ready';
  return clip.reading === 'running' ? 'reading' : 'waiting';
}

function silencesOf({ study, rateHz }: NonNullable<ClipProgress['taken']>): { fromSec: number; toSec: number }[] {
  const { search } = study;
  if (search.kind === 'none') return [];
  return search.silences.map(({ fromFrame, toFrame }) => ({ fromSec: fromFrame / rateHz, toSec: toFrame / rateHz }));
}

const OFF: CleanFacts = {
  state: 'off',
  unfit: null,
  silence: null,
  silenceConfidence: null,
  noise: null,
  whistlesHz: [],
  lines: [],
  restoredSamples: 0,
  backedOff: 0,
  notes: [],
};

function cleanFacts({ clean, cleaned, cleanFault }: TakeProgress, inWords: FaultWords): CleanFacts {
  if (clean === 'off' || clean === 'waiting' || clean === 'working') return { ...OFF, state: clean };
  if (clean === 'fault') return { ...OFF, state: 'unfit', unfit: inWords(cleanFault).message };
  if (cleaned === undefined) return { ...OFF, state: 'waiting' };
  const { result, unfit } = cleaned;
  if (unfit !== null || result === null) {
    const why = unfit === null ? '' : UNFIT_SENTENCE[unfit];
    return { ...OFF, state: 'unfit', unfit: `${why.charAt(0).toUpperCase()}${why.slice(1)}`, notes: cleaned.notes };
  }
  return {
    state: 'ready',
    unfit: null,
    silence: cleaned.silence,
    silenceConfidence: result.confidence,
    noise: cleaned.noise,
    whistlesHz: result.whistlesHz,
    lines: result.humLines,
    restoredSamples: result.restoredSamples,
    backedOff: result.backedOff,
    notes: cleaned.notes,
  };
}
