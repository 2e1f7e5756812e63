import type { Block } from '../signal/block.ts';
import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';
import type { Around } from './around.ts';
import { Cleaner } from './cleaner.ts';
import { CleaningMeasure } from './cleaning-measure.ts';
import { silenceWithin } from './expected-silence.ts';
import { type LearntNoise, learnNoise, type Stretch } from './learn.ts';
import type { NoiseProfile } from './profile.ts';
import type { CleanSettings } from './settings.ts';
import { SilenceFinder, type TakeStudy } from './silence-finder.ts';

/** The noise of a take's room, as its silences tell. */
interface LearntRoom {
  readonly study: TakeStudy;
  /** Frames of the take; where `how` is 'clip' they lie outside it. */
  readonly silences: readonly Stretch[];
  /** Whether the silence was found, given by the user, is where it was expected, or lies elsewhere in the clip. */
  readonly how: 'found' | 'given' | 'guide' | 'clip';
  /** 0 to 1; 1 for a given silence. */
  readonly confidence: number;
  readonly profile: NoiseProfile;
}

interface UnknownRoom {
  readonly kind: 'leave';
  readonly study: TakeStudy;
  /** Why nothing can be learnt: the take goes through unchanged. */
  readonly reason: 'all music' | 'digital silence' | 'too short' | 'holds music';
  readonly best?: Stretch;
}

/** How a take will be cleaned, known before a frame is written. */
export type CleaningPlan =
  | (LearntRoom & {
      readonly kind: 'clean';
      /** The wanted settings, or gentler ones. */
      readonly settings: CleanSettings;
      /** Steps by which the settings were made gentler, because harm would have been heard. */
      readonly backedOff: number;
      /** Harm expected from a sample of the music, dB; see CleaningReport. -Infinity when none was found. */
      readonly harmDb: number;
    })
  | UnknownRoom;

/** What may be told to `planCleaning`. */
export interface PlanOptions {
  /** What a SilenceFinder found in the take before, so that it is not read again. */
  readonly study?: TakeStudy;
  /** The silence the user marked: learnt from instead of those found. */
  readonly given?: Stretch;
  /** Where the guide says that nobody plays: a silence found there is learnt from before others. */
  readonly hint?: Stretch;
  /** Where else the room is heard, for a take that is a part of a clip; learnt from where the take has no silence of its own. */
  readonly around?: Around;
  /** Only its level, lines and hum are asked for: one silence is enough. */
  readonly levelOnly?: boolean;
  readonly cancel?: Cancel;
  /** 0 to 1, of the pass over the take. */
  readonly onProgress?: (share: number) => void;
}

const BLOCK = 16384;
/** A silence that is found where the guide has it is sure to this at least: two things agree. */
const GUIDED_CONFIDENCE = 0.8;
/** Music taken away at this level below the music is heard, dB. */
export const AUDIBLE_HARM_DB = -28;
const MOST_STEPS = 2;
/** Stretches of the take that are cleaned for trial, and their length, seconds. */
const TRIALS = 3;
const TRIAL_SEC = 1.6;

/**
 * Studies a take in one pass, learns its noise, and tries the settings on a few stretches of the music; if too much of it
 * would be lost, makes them gentler, at most twice. Reads the take about once. Memory does not grow with length but for
 * three numbers per 50 ms.
 */
export function planCleaning(sound: Sound, wanted: CleanSettings, options: PlanOptions = {}): CleaningPlan {
  const room = learnRoom(sound, options);
  if (room.kind === 'leave') return room;
  const { profile, silences, study } = room;
  return { ...room, kind: 'clean', ...gentleEnough(sound, profile, wanted, silences, study, options.cancel) };
}

/** As `planCleaning`, without trying anything out: reads the silences alone where the take was studied before. */
export function learnRoom(sound: Sound, options: PlanOptions = {}): (LearntRoom & { kind: 'learnt' }) | UnknownRoom {
  const study = options.study ?? studyTake(sound, options);
  const { search } = study;
  const { given, hint, cancel } = options;
  const most = options.levelOnly === true ? 1 : undefined;
  const found = search.kind === 'found' ? search.silences : [];
  const expected = given === undefined && hint !== undefined ? silenceWithin(sound, hint, search, cancel) : undefined;
  const guided = expected === undefined ? undefined : [expected, ...found.filter((one) => !overlap(one, expected))];
  const learntThere = guided === undefined ? undefined : learnNoise(sound, guided, cancel, most);
  const isGuided = learntThere?.kind === 'learnt';
  const silences = given !== undefined ? [given] : isGuided ? guided! : found;
  const elsewhere = given === undefined ? options.around : undefined;
  if (silences.length === 0) {
    const reason = search.kind === 'none' ? search.reason : 'too short';
    const best = search.kind === 'none' ? search.best : undefined;
    const unknown: UnknownRoom = { kind: 'leave', study, reason, ...(best === undefined ? {} : { best }) };
    return learnAround(study, elsewhere, cancel) ?? unknown;
  }
  const learnt: LearntNoise = isGuided ? learntThere : learnNoise(sound, silences, cancel, most);
  if (learnt.kind === 'unfit' && (given === undefined || learnt.profile === undefined)) {
    const unknown: UnknownRoom = { kind: 'leave', study, reason: learnt.reason, best: silences[0]! };
    return learnAround(study, elsewhere, cancel) ?? unknown;
  }
  const profile = learnt.profile!;
  const sure = search.kind === 'found' ? search.confidence : 0;
  const confidence = given !== undefined ? 1 : isGuided ? Math.max(GUIDED_CONFIDENCE, sure) : sure;
  const how = given !== undefined ? 'given' : isGuided ? 'guide' : 'found';
  return { kind: 'learnt', study, silences, how, confidence, profile };
}

/** What is learnt elsewhere in the clip; undefined where nothing can be learnt there either. */
function learnAround(
  study: TakeStudy,
  around: Around | undefined,
  cancel: Cancel | undefined,
): (LearntRoom & { kind: 'learnt' }) | undefined {
  if (around === undefined || around.silences.length === 0) return undefined;
  const { sound, silences, confidence } = around;
  const learnt = learnNoise(sound, silences, cancel);
  if (learnt.kind === 'unfit') return undefined;
  return { kind: 'learnt', study, silences, how: 'clip', confidence, profile: learnt.profile };
}

/** Tries settings out, and makes them gentler until little enough of the music is lost. */
function gentleEnough(
  sound: Sound,
  profile: NoiseProfile,
  wanted: CleanSettings,
  silences: readonly Stretch[],
  study: TakeStudy,
  cancel: Cancel | undefined,
): { settings: CleanSettings; backedOff: number; harmDb: number } {
  const stretches = trialStretches(sound, silences);
  let settings = wanted;
  for (let backedOff = 0; ; backedOff++) {
    const harmDb = tryOut(sound, profile, settings, stretches, study, cancel);
    if (harmDb < AUDIBLE_HARM_DB || backedOff === MOST_STEPS) return { settings, backedOff, harmDb };
    settings = gentler(settings);
  }
}

function overlap(one: Stretch, other: Stretch): boolean {
  return one.fromFrame < other.toFrame && one.toFrame > other.fromFrame;
}

/** One step gentler: a third less reduction, and the noise taken for 1 dB weaker. */
export function gentler(settings: CleanSettings): CleanSettings {
  return {
    ...settings,
    reductionDb: Math.round(settings.reductionDb * 2) / 3,
    marginDb: Math.max(-6, settings.marginDb - 1),
  };
}

/** One pass over a take with a SilenceFinder. */
export function studyTake(sound: Sound, options: PlanOptions = {}): TakeStudy {
  const finder = new SilenceFinder(sound.rateHz, options.hint);
  const block = new Float32Array(BLOCK);
  for (let from = 0; from < sound.lengthFrames; from += BLOCK) {
    throwIfCancelled(options.cancel);
    const length = Math.min(BLOCK, sound.lengthFrames - from);
    const part = length === BLOCK ? block : block.subarray(0, length);
    sound.read(from, part);
    finder.add([part]);
    options.onProgress?.((from + length) / sound.lengthFrames);
  }
  return finder.study();
}

/** Evenly spread stretches outside the silences. */
function trialStretches(sound: Sound, silences: readonly Stretch[]): Stretch[] {
  const length = Math.round(TRIAL_SEC * sound.rateHz);
  const stretches: Stretch[] = [];
  const places = 3 * TRIALS;
  for (let n = 0; n < places && stretches.length < TRIALS; n++) {
    const place = (n * 7) % places;
    const fromFrame = Math.round(((place + 0.5) / places) * sound.lengthFrames - length / 2);
    const toFrame = fromFrame + length;
    if (fromFrame < 0 || toFrame > sound.lengthFrames) continue;
    if (silences.some((silence) => silence.fromFrame < toFrame && silence.toFrame > fromFrame)) continue;
    stretches.push({ fromFrame, toFrame });
  }
  return stretches;
}

function tryOut(
  sound: Sound,
  profile: NoiseProfile,
  settings: CleanSettings,
  stretches: readonly Stretch[],
  study: TakeStudy,
  cancel: Cancel | undefined,
): number {
  let worst = Number.NEGATIVE_INFINITY;
  const cleaner = new Cleaner(sound.rateHz, profile, settings);
  for (const { fromFrame, toFrame } of stretches) {
    throwIfCancelled(cancel);
    const samples = new Float32Array(toFrame - fromFrame);
    sound.read(fromFrame, samples);
    cleaner.reset(fromFrame);
    const measure = new CleaningMeasure(profile, [], study.clip, fromFrame);
    const look = ([cleaned, removed]: Block): void => measure.add(cleaned!, removed!);
    look(cleaner.process([samples]));
    look(cleaner.flush());
    worst = Math.max(worst, measure.result().harmDb);
  }
  return worst;
}
