import { basename, dirname, resolve } from 'node:path';
import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import { GuideSound, type GuideSoundSettings } from '../../core/guide/guide-sound.ts';
import type { Part, Score } from '../../core/guide/score.ts';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { Limiter } from '../../core/mix/limiter.ts';
import { mendsAnything } from '../../core/pitch/mend.ts';
import { type KeptPlan, keptPlan } from '../../core/session/kept-plan.ts';
import { soundingTake } from '../../core/session/passages.ts';
import type { CleanChoice, Mend, Placement, Session, Span } from '../../core/session/schema.ts';
import type { Block } from '../../core/signal/block.ts';
import { clockOf } from '../../core/signal/clock.ts';
import { PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { type LaidSound, openLaid } from '../work/laid-sound.ts';
import type { WorkPool } from '../work/pool.ts';
import type { OpenSound } from '../work/sound-file.ts';
import type { Cache } from './cache.ts';
import { cleanTaken } from './clean-taken.ts';
import { cutParts } from './cut-parts.ts';
import { writeMono } from './guide-video.ts';
import { lineUpTaken } from './line-up-clips.ts';
import type { KeyedSound } from './measure-taken.ts';
import { mendTaken } from './mend-taken.ts';
import { expectedSilence, isUnplaced, keptPlacement } from './placement.ts';
import { SESSION_NAME, SessionStore } from './session-store.ts';
import type { TakenIn } from './take-in.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';

/** A recorded take that is to sound in a guide in place of the mock-up of its part. */
export interface OwnTake {
  readonly part: Part;
  readonly clip: string;
  /** The stretch of the clip that it is, clip time, s; null: all of it. */
  readonly stretch: Span | null;
  readonly silence: Span | null;
  readonly clean: CleanChoice;
  readonly mend: Mend | null;
  /** Where it lies on the time line of the guide to be made; null: to be found. */
  readonly placement: Placement | null;
}

/** A take ready to sound in a guide. */
export interface OwnVoice {
  readonly partId: string;
  readonly laid: LaidSound;
  /** That makes it as loud as the mock-up of its part, linear. */
  readonly gain: number;
}

const USUAL_CLEAN: CleanChoice = { on: true, character: 'even', rule: 'lsa', fine: null };
const BLOCK_FRAMES = 16384;
/** A take sounds from this long before the music to this long after it: what is around is handling and claps. */
const BEFORE_SEC = 0.3;
const AFTER_SEC = 1.5;
const FADE_SEC = 0.1;
/** Further than this a take is not raised or lowered, dB: more would be noise, or a mistake. */
const MOST_GAIN_DB = 30;
const CEILING_DBTP = -1;
/** Bars may differ by so much between two plans of one piece, frames: each is rounded to one. */
const SAME_FRAMES = 2;

/** The part that has a text in its name. Throws PartsongError 'bad-option' where none or several have. */
export function partNamed(score: Score, text: string): Part {
  const wanted = text.normalize('NFC').toLowerCase().trim();
  const nameOf = (part: Part): string => part.name.normalize('NFC').toLowerCase();
  const same = score.parts.filter((part) => nameOf(part) === wanted);
  const found = same.length === 1 ? same : score.parts.filter((part) => nameOf(part).includes(wanted));
  if (found.length === 1) return found[0]!;
  throw new PartsongError(
    'bad-option',
    `The voice "${text}" is not clear: ${found.length === 0 ? 'no part of the score has that in its name' : `${found.length} parts have it in their names`}.`,
    score.parts.length === 0
      ? 'Name a score; without one the guide is a click and the same for all.'
      : `Name one of these: ${score.parts.map((part) => part.name).join(', ')}; or all.`,
  );
}

/** A session as it lies on the disk; it is only read. Throws PartsongError as SessionStore does. */
export async function readSession(path: string): Promise<{ session: Session; folder: string }> {
  const folder = basename(path) === SESSION_NAME ? dirname(resolve(path)) : resolve(path);
  return { session: (await new SessionStore(folder).read()).session, folder };
}

/** Takes named one by one. */
export function takesNamed(
  score: Score,
  named: readonly { readonly voice: string; readonly clip: string }[],
): OwnTake[] {
  return named.map(({ voice, clip }) => ({
    part: partNamed(score, voice),
    clip,
    stretch: null,
    silence: null,
    clean: USUAL_CLEAN,
    mend: null,
    placement: null,
  }));
}

/**
 * The takes with which the voices of a session sound, for the parts of the same names. Where the session's guide had a plan
 * their places are known. Throws PartsongError 'bad-option' where its bars lie otherwise than those of the guide to be made.
 */
export function takesOfSession(
  { session, folder }: { readonly session: Session; readonly folder: string },
  score: Score,
  plan: GuidePlan,
  notes: string[],
): OwnTake[] {
  const shiftSec = session.guide?.plan == null ? null : shiftBetween(session.guide.plan, plan);
  return session.voices.flatMap((voice): OwnTake[] => {
    const take = soundingTake(session, voice);
    if (take === undefined) return [];
    const part = partOfVoice(score, voice.name);
    if (part === undefined) {
      notes.push(`The voice ${voice.name} of the session has no part of that name in the score, so it does not sound.`);
      return [];
    }
    if (voice.passages !== null) {
      notes.push(`${voice.name} is made of passages in the session; here its take ${take.name} sounds alone.`);
    }
    const { placement, silence, clean, mend } = take;
    const isKnown = placement !== null && !isUnplaced(placement) && shiftSec !== null;
    const moved = isKnown ? { ...placement, offsetSec: placement.offsetSec + shiftSec } : null;
    return [
      { part, clip: resolve(folder, take.clip.path), stretch: take.part, silence, clean, mend, placement: moved },
    ];
  });
}

function partOfVoice(score: Score, name: string): Part | undefined {
  const voice = name.normalize('NFC').toLowerCase().trim();
  const named = score.parts.map((part) => ({ part, name: part.name.normalize('NFC').toLowerCase() }));
  const same = named.find((one) => one.name === voice);
  if (same !== undefined) return same.part;
  const alike = named.filter((one) => voice.includes(one.name) || one.name.includes(voice));
  return alike.length === 1 ? alike[0]!.part : undefined;
}

/** How much later the music is in a new plan, s. */
function shiftBetween(old: KeptPlan, plan: GuidePlan): number {
  const isSame =
    old.bars.length === plan.bars.length &&
    old.bars.every((bar, n) => {
      const other = plan.bars[n]!.frame - plan.musicFrame;
      return Math.abs(bar.frame - old.musicFrame - other) <= SAME_FRAMES;
    });
  if (isSame) return (plan.musicFrame - old.musicFrame) / SESSION_RATE_HZ;
  throw new PartsongError(
    'bad-option',
    'The takes of the session were played to a guide with other bars or another tempo, so they do not fit this one.',
    'Make the guide with the same score and tempo, or without the takes.',
  );
}

export interface OwnVoiceOptions {
  readonly score: Score;
  readonly plan: GuidePlan;
  /** How the mock-up sounds, all parts at 0 dB. */
  readonly sound: GuideSoundSettings;
  readonly cache: Cache;
  readonly pool: WorkPool;
  readonly signal: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
  /** What could not be done is told here. */
  readonly notes: string[];
}

/**
 * Takes clips in, places and cleans them, and finds the gain that makes each as loud as the mock-up it replaces. A take
 * whose place is not sure is left out with a note: its part is played by the mock-up then.
 */
export async function ownVoices(takes: readonly OwnTake[], options: OwnVoiceOptions): Promise<OwnVoice[]> {
  const { cache, pool, signal, onStep, notes } = options;
  if (takes.length === 0) return [];
  const mockUp = `${cache.soundPath('mock-up')}.wav`;
  await writeMono(mockUp, mockUpBlocks(options, undefined));
  const listening = {
    signal,
    onProgress: onStep(takes.length === 1 ? 'Listening to the take' : 'Listening to the takes'),
  };
  const taken = await takeInWithGuide(
    takes.map((take) => take.clip),
    mockUp,
    cache,
    pool,
    listening,
  );
  const plan = keptPlan(
    options.plan,
    options.score.parts.map((part) => part.name),
  );
  const wishes = takes.map(({ stretch }, index) => ({ clip: taken.takes[index]!, part: stretch }));
  const own = await cutParts(wishes, cache, pool, { signal });
  const placements = await placed(takes, own, taken.guide!, plan, options);
  const voices: OwnVoice[] = [];
  for (const [index, take] of takes.entries()) {
    const placement = placements[index]!;
    if (isUnplaced(placement) || (placement.by === 'found' && placement.question !== null)) {
      notes.push(
        `${basename(take.clip)} does not sound in the guide, since its place is not sure: ${placement.question}`,
      );
      continue;
    }
    const sound = await soundOf(take, own[index]!, expectedSilence(plan, placement), options);
    const { soundPath, rateHz } = sound;
    const laid: LaidSound = { soundPath, rateHz, place: clockOf(placement) };
    voices.push({ partId: take.part.id, laid, gain: await matchingGain(take.part, laid, options) });
  }
  return voices;
}

async function placed(
  takes: readonly OwnTake[],
  taken: readonly TakenIn[],
  guide: TakenIn,
  plan: KeptPlan | null,
  { pool, signal, onStep }: OwnVoiceOptions,
): Promise<Placement[]> {
  const open = taken.filter((_, index) => takes[index]!.placement === null);
  const found =
    open.length === 0 ? [] : await lineUpTaken(open, guide, pool, { signal, plan, onProgress: onStep('Lining up') });
  let next = 0;
  return takes.map((take) => take.placement ?? keptPlacement(found[next++]!));
}

async function soundOf(
  take: OwnTake,
  taken: TakenIn,
  expected: Span | undefined,
  options: OwnVoiceOptions,
): Promise<KeyedSound> {
  const { cache, pool, signal, onStep, notes } = options;
  const { character, rule, fine, on } = take.clean;
  if (!on) return mendedOf(take, taken, options);
  const wish = {
    character,
    rule,
    given: [take.silence ?? undefined],
    expected: [expected],
    ...(fine === null ? {} : { fine }),
  };
  const name = basename(take.clip);
  const [cleaned] = await cleanTaken([taken], wish, cache, pool, { signal, onProgress: onStep(`Cleaning ${name}`) });
  notes.push(...cleaned!.notes.map((note) => `${name}: ${note}`));
  const { key, soundPath } = cleaned!;
  return mendedOf(take, { key, soundPath, rateHz: taken.rateHz }, options);
}

async function mendedOf({ clip, mend }: OwnTake, sound: KeyedSound, options: OwnVoiceOptions): Promise<KeyedSound> {
  if (!mendsAnything(mend)) return sound;
  const { cache, pool, signal, onStep } = options;
  const running = { signal, onProgress: onStep(`Mending ${basename(clip)}`) };
  const [mended] = await mendTaken([{ sound, mend }], cache, pool, running);
  return { ...sound, key: mended!.key, soundPath: mended!.soundPath };
}

async function matchingGain(part: Part, laid: LaidSound, options: OwnVoiceOptions): Promise<number> {
  const wanted = new LoudnessMeter({ rateHz: SESSION_RATE_HZ, channels: 1, truePeak: 'off' });
  for await (const block of mockUpBlocks(options, part)) wanted.add(block);
  const own = new LoudnessMeter({ rateHz: SESSION_RATE_HZ, channels: 1, truePeak: 'off' });
  const sound = openLaid(laid);
  try {
    const { musicFrame, musicEndFrame } = options.plan;
    const buffer = new Float32Array(BLOCK_FRAMES);
    for (let from = musicFrame; from < musicEndFrame; from += BLOCK_FRAMES) {
      throwIfCancelled(options.signal);
      const block = buffer.subarray(0, Math.min(BLOCK_FRAMES, musicEndFrame - from));
      sound.read(from, block);
      own.add([block]);
    }
  } finally {
    sound.close();
  }
  const gainDb = wanted.result().integratedLufs - own.result().integratedLufs;
  if (!Number.isFinite(gainDb)) return 1;
  return 10 ** (Math.min(MOST_GAIN_DB, Math.max(-MOST_GAIN_DB, gainDb)) / 20);
}

/** The mock-up, whole as a guide, or of one part without click and tones. */
async function* mockUpBlocks(
  { score, plan, sound, signal }: OwnVoiceOptions,
  part: Part | undefined,
): AsyncGenerator<Block> {
  const bare = part === undefined ? plan : { ...plan, tones: [], clicks: [], cues: [] };
  const others = part === undefined ? [] : score.parts.filter((one) => one.id !== part.id);
  const partGainsDb = Object.fromEntries(others.map((one) => [one.id, Number.NEGATIVE_INFINITY]));
  const droneKey = part === undefined ? sound.droneKey : null;
  const made = new GuideSound(score, bare, { ...sound, partGainsDb, droneKey });
  const buffer = new Float32Array(BLOCK_FRAMES);
  for (let from = 0; from < plan.lengthFrames; from += BLOCK_FRAMES) {
    throwIfCancelled(signal);
    const block = buffer.subarray(0, Math.min(BLOCK_FRAMES, plan.lengthFrames - from));
    made.next(block);
    yield [block];
  }
}

/**
 * Recorded takes within a guide: each faded in before the music and out after it, and the whole kept under -1 dBTP, since
 * takes have peaks that a mock-up has not. Blocks are to be given in order.
 */
export class OwnVoicesMix {
  readonly #voices: readonly { readonly sound: OpenSound; readonly gain: number }[];
  readonly #limiter = new Limiter({ rateHz: SESSION_RATE_HZ, channels: 1, ceilingDbtp: CEILING_DBTP });
  readonly #fromFrame: number;
  readonly #toFrame: number;
  readonly #scratch = new Float32Array(BLOCK_FRAMES);
  #frame = 0;

  /** partGainsDb: as for the mock-up; a take sounds with the gain of its part. To be closed. */
  constructor(voices: readonly OwnVoice[], plan: GuidePlan, partGainsDb: Readonly<Record<string, number>>) {
    this.#fromFrame = Math.round(plan.musicFrame - BEFORE_SEC * SESSION_RATE_HZ);
    this.#toFrame = Math.round(plan.musicEndFrame + AFTER_SEC * SESSION_RATE_HZ);
    const opened: { sound: OpenSound; gain: number }[] = [];
    this.#voices = opened;
    try {
      for (const { partId, laid, gain } of voices) {
        const partGainDb = partGainsDb[partId] ?? 0;
        if (partGainDb === Number.NEGATIVE_INFINITY) continue;
        opened.push({ sound: openLaid(laid), gain: gain * 10 ** (partGainDb / 20) });
      }
    } catch (error) {
      this.close();
      throw error;
    }
  }

  /** Adds the takes to a block of the guide (at most 16384 frames); gives what has become ready. */
  process(block: Float32Array): Block {
    for (const { sound, gain } of this.#voices) {
      const part = this.#scratch.subarray(0, block.length);
      sound.read(this.#frame, part);
      for (let n = 0; n < block.length; n++) block[n]! += gain * this.#fadeAt(this.#frame + n) * part[n]!;
    }
    this.#frame += block.length;
    return this.#limiter.process([block]);
  }

  flush(): Block {
    return this.#limiter.flush();
  }

  close(): void {
    for (const { sound } of this.#voices) sound.close();
  }

  #fadeAt(frame: number): number {
    const fade = FADE_SEC * SESSION_RATE_HZ;
    const share = Math.min(1, (frame - this.#fromFrame) / fade, (this.#toFrame - frame) / fade);
    return share <= 0 ? 0 : 0.5 - 0.5 * Math.cos(Math.PI * share);
  }
}
