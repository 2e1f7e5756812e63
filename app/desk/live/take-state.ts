import { mendsAnything } from '../../../core/pitch/mend.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { ClipRef, Take } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { TakeLoudness } from '../../work/tasks/measure-take.ts';
import { Cache } from '../cache.ts';
import type { CleanedTake } from '../clean-taken.ts';
import { soundOfTake } from '../composed-voice.ts';
import { cutBefore, cutParts, partPlace } from '../cut-parts.ts';
import type { KeyedSound } from '../measure-taken.ts';
import type { MendedTake } from '../mend-taken.ts';
import { identify, type Known, type TakenIn, takeInClips, takenBefore } from '../take-in.ts';
import { type Bench, use } from './bench.ts';
import { needCleaned, needLoudness, needMended, needWave, type WaveFileOf } from './take-sounds.ts';

/** How far the work on one clip has come. */
export interface ClipProgress {
  readonly id: string;
  readonly file: string;
  readonly look: 'looking' | 'there' | 'missing' | 'faulty';
  /** Why it is missing or cannot be used. */
  readonly fault: unknown;
  readonly taken: TakenIn | undefined;
  readonly reading: 'waiting' | 'running' | 'over';
  readonly before: WaveFileOf | undefined;
}

export interface TakeProgress extends ClipProgress {
  readonly take: Take;
  /** Its whole clip; `taken` is the part of it that the take is. */
  readonly clip: TakenIn | undefined;
  readonly clean: 'off' | 'waiting' | 'working' | 'ready' | 'fault';
  readonly cleanFault: unknown;
  /** Undefined until it is cleaned; where cleaning is off it stays so. While it is cleaned anew, what it was cleaned to before. */
  readonly cleaned: CleanedTake | undefined;
  readonly mending: 'none' | 'busy' | 'ready';
  readonly mendFault: unknown;
  /** Undefined until it is mended; where nothing is to be mended it stays so. */
  readonly mended: MendedTake | undefined;
  readonly after: WaveFileOf | undefined;
  readonly loudness: TakeLoudness | undefined;
  /** The sound that goes into the mix; undefined until it is there. */
  readonly sound: KeyedSound | undefined;
  /** All is known that will be known. */
  readonly settled: boolean;
}

/** Which clip lies at a path. */
type Look = { readonly kind: 'there'; readonly known: Known } | { readonly kind: 'missing'; readonly fault: unknown };

/** Asks for the reading and the waveform of a clip. drawn: its waveform is wanted. */
export function needClip(bench: Bench, id: string, clip: ClipRef, drawn = true): ClipProgress {
  const { ledger, cache } = bench;
  const file = bench.fullPath(clip.path);
  const nothing = { id, file, fault: null, taken: undefined, before: undefined } as const;
  const lookKey = `look:${clip.fingerprint}:${file}`;
  const looked = ledger.need<Look>({
    key: lookKey,
    stage: 'look',
    run: () => lookAt(file, clip),
  });
  if (looked.state === 'fault') return { ...nothing, look: 'faulty', fault: looked.fault, reading: 'over' };
  if (looked.state !== 'done') return { ...nothing, look: 'looking', reading: 'waiting' };
  if (looked.value.kind === 'missing') {
    const taken = takenWithout(bench, file, clip);
    const before = taken === undefined || !drawn ? undefined : needOwnWave(bench, taken);
    return { ...nothing, look: 'missing', fault: looked.value.fault, reading: 'over', taken, before };
  }
  const { known } = looked.value;
  use(bench, known.key, clipKey(clip.fingerprint));
  const reading = ledger.need<TakenIn>({
    key: `takeIn:${known.key}`,
    stage: 'takeIn',
    after: lookKey,
    known: () => takenBefore(known, cache),
    run: async (signal, onProgress) => {
      const [taken] = await takeInClips([file], cache, bench.pool, { signal, onProgress });
      cache.keep(clipKey(clip.fingerprint), { key: known.key });
      return taken!;
    },
  });
  if (reading.state === 'fault') return { ...nothing, look: 'faulty', fault: reading.fault, reading: 'over' };
  if (reading.state !== 'done') {
    // What the user stopped holds nothing else up.
    return { ...nothing, look: 'there', reading: reading.state === 'stopped' ? 'over' : reading.state };
  }
  // Two takes of one clip share what was read; each has its own path.
  const taken = reading.value.file === file ? reading.value : { ...reading.value, file };
  return {
    ...nothing,
    look: 'there',
    reading: 'over',
    taken,
    before: drawn ? needOwnWave(bench, taken) : undefined,
  };
}

function needOwnWave(bench: Bench, taken: TakenIn): WaveFileOf | undefined {
  return needWave(bench, taken, taken.study.clip?.threshold ?? null);
}

/** Asks for the clip of a take, and where the take is a part of it, for that part: a sound of its own from there on. */
function needPart(bench: Bench, take: Take): ClipProgress & Pick<TakeProgress, 'clip'> {
  const whole = needClip(bench, take.id, take.clip, take.part === null);
  const clip = whole.taken;
  const place = clip === undefined ? undefined : partPlace(clip, take.part);
  if (clip === undefined) return { ...whole, clip };
  if (place === undefined) return { ...whole, clip, before: whole.before ?? needOwnWave(bench, clip) };
  use(bench, place.key);
  const standing = bench.ledger.need<TakenIn>({
    key: `takeIn:${place.key}`,
    stage: 'takeIn',
    after: `takeIn:${clip.key}`,
    known: () => cutBefore(clip, place, bench.cache),
    calmMs: 150,
    run: async (signal, onProgress) => {
      const [cut] = await cutParts([{ clip, part: take.part }], bench.cache, bench.pool, { signal, onProgress });
      return cut!;
    },
  });
  const waiting = { ...whole, clip, taken: undefined, before: undefined };
  if (standing.state === 'fault') return { ...waiting, look: 'faulty', fault: standing.fault, reading: 'over' };
  if (standing.state !== 'done') {
    return { ...waiting, reading: standing.state === 'stopped' ? 'over' : standing.state };
  }
  // The part's own path, where the same clip lies elsewhere for another take.
  const taken = standing.value.file === clip.file ? standing.value : { ...standing.value, file: clip.file };
  return { ...whole, clip, taken, before: needOwnWave(bench, taken) };
}

/**
 * Asks for all work on a take that does not depend on other takes. plan: that of the guide; where the take's place is known
 * it says where the silence is. before: how far it was when it was last asked for.
 */
export function needTake(
  bench: Bench,
  take: Take,
  plan: KeptPlan | null,
  before: TakeProgress | undefined,
): TakeProgress {
  const clip = needPart(bench, take);
  const { taken } = clip;
  const isMended = mendsAnything(take.mend);
  const waiting = {
    cleanFault: null,
    cleaned: undefined,
    mending: isMended ? 'busy' : 'none',
    mendFault: null,
    mended: undefined,
    after: undefined,
    loudness: undefined,
    sound: undefined,
  } as const;
  if (taken === undefined) {
    const clean = take.clean.on ? 'waiting' : 'off';
    return { ...clip, take, clean, ...waiting, settled: clip.reading === 'over' };
  }
  const asked = take.clean.on ? needCleaned(bench, take, taken, plan) : undefined;
  const clean = asked?.standing;
  if (clean !== undefined && clean.state !== 'done' && clean.state !== 'fault') {
    const state = clean.state === 'running' ? 'working' : 'waiting';
    const older = soundBefore(taken, before);
    return { ...clip, take, ...waiting, clean: state, ...older, settled: false };
  }
  const cleaned = clean?.state === 'done' ? clean.value : undefined;
  const cleanSide = {
    clean: clean === undefined ? 'off' : clean.state === 'fault' ? 'fault' : 'ready',
    cleanFault: clean?.state === 'fault' ? clean.fault : null,
    cleaned,
  } as const;
  const isRaw = cleaned === undefined || cleaned.unfit !== null;
  const cleanBy = isRaw || asked === undefined ? `takeIn:${taken.key}` : asked.key;
  const mend = needMended(bench, take, soundOfTake({ taken, cleaned }), cleanBy);
  if (mend !== undefined && mend.standing.state !== 'done' && mend.standing.state !== 'fault') {
    return { ...clip, take, ...waiting, ...soundBefore(taken, before), ...cleanSide, settled: false };
  }
  const mended = mend?.standing.state === 'done' ? mend.standing.value : undefined;
  const isOwn = isRaw && mended === undefined;
  const sound = soundOfTake({ taken, cleaned, mended });
  const madeBy = mended === undefined || mend === undefined ? cleanBy : mend.key;
  const after = isOwn ? clip.before : needWave(bench, sound, null, madeBy);
  const loudness = needLoudness(bench, sound, madeBy);
  return {
    ...clip,
    take,
    ...cleanSide,
    mending: mended === undefined ? 'none' : 'ready',
    mendFault: mend?.standing.state === 'fault' ? mend.standing.fault : null,
    mended,
    after,
    loudness: loudness.state === 'done' ? loudness.value : undefined,
    sound,
    settled: loudness.state === 'done' || loudness.state === 'fault',
  };
}

/** While a take is cleaned or mended anew it sounds as it did: nothing where it did not, or where it is another part of its clip now. */
function soundBefore(
  taken: TakenIn,
  before: TakeProgress | undefined,
): Partial<Pick<TakeProgress, 'cleaned' | 'mended' | 'after' | 'loudness' | 'sound'>> {
  if (before === undefined || before.taken?.key !== taken.key) return {};
  const { cleaned, mended, after, loudness, sound } = before;
  return { cleaned, mended, after, loudness, sound };
}

async function lookAt(file: string, clip: ClipRef): Promise<Look> {
  try {
    const known = await identify(file, true);
    if (known.fingerprint === clip.fingerprint) return { kind: 'there', known };
    const fault = new PartsongError(
      'file-missing',
      `${file} is another clip now than when it was added.`,
      'Find the clip again, or put it back in its place.',
      file,
    );
    return { kind: 'missing', fault };
  } catch (fault) {
    if (fault instanceof PartsongError && fault.code === 'file-missing') return { kind: 'missing', fault };
    throw fault;
  }
}

/** Where it is kept which sound belongs to a clip, for when the clip itself is gone. */
function clipKey(fingerprint: string): string {
  return Cache.keyOf('clip', fingerprint);
}

/** The sound of a missing clip, where the cache has all of it. */
function takenWithout(bench: Bench, file: string, clip: ClipRef): TakenIn | undefined {
  const { cache } = bench;
  const kept = cache.record<{ key: string }>(clipKey(clip.fingerprint));
  if (kept === undefined) return undefined;
  use(bench, kept.key, clipKey(clip.fingerprint));
  const { sizeBytes, fingerprint } = clip;
  const taken = takenBefore({ file, sizeBytes, fingerprint, key: kept.key }, cache);
  return taken === undefined || !taken.soundPath.endsWith('.f32') ? undefined : taken;
}
