import { basename } from 'node:path';
import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import { GuideSound, type GuideSoundSettings } from '../../core/guide/guide-sound.ts';
import type { Part, Score } from '../../core/guide/score.ts';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { mendsAnything } from '../../core/pitch/mend.ts';
import { type KeptPlan, keptPlan } from '../../core/session/kept-plan.ts';
import type { Placement, Span } from '../../core/session/schema.ts';
import type { Block } from '../../core/signal/block.ts';
import { clockOf } from '../../core/signal/clock.ts';
import { throwIfCancelled } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { type LaidSound, openLaid } from '../work/laid-sound.ts';
import type { WorkPool } from '../work/pool.ts';
import type { Cache } from './cache.ts';
import { cleanTaken } from './clean-taken.ts';
import { cutParts } from './cut-parts.ts';
import { writeMono } from './guide-video.ts';
import { lineUpTaken } from './line-up-taken.ts';
import type { KeyedSound } from './measure-taken.ts';
import { mendTaken } from './mend-taken.ts';
import type { OwnTake } from './own-takes.ts';
import { expectedSilence, isUnplaced } from './placement.ts';
import type { TakenIn } from './take-in.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';

/** A take ready to sound in a guide. */
export interface OwnVoice {
  readonly partId: string;
  readonly laid: LaidSound;
  /** That makes it as loud as the mock-up of its part, linear. */
  readonly gain: number;
}

const BLOCK_FRAMES = 16384;
/** Further than this a take is not raised or lowered, dB: more would be noise, or a mistake. */
const MOST_GAIN_DB = 30;

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
  { cache, pool, signal, onStep }: OwnVoiceOptions,
): Promise<Placement[]> {
  const open = taken.filter((_, index) => takes[index]!.placement === null);
  const lining = { signal, plan, onProgress: onStep('Lining up') };
  const found = open.length === 0 ? [] : await lineUpTaken(open, guide, cache, pool, lining);
  let next = 0;
  return takes.map((take) => take.placement ?? found[next++]!);
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
