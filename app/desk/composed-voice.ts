import { integratedLufs } from '../../core/loudness/gate.ts';
import { type ComposedJoin, PartLevel } from '../../core/mix/composed-sound.ts';
import type { JoinMatch } from '../../core/mix/join.ts';
import type { Passage, Placement, Take } from '../../core/session/schema.ts';
import { clockOf, sessionSecOf, takeSecOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ, secondsToFrames } from '../../core/signal/time.ts';
import type { LaidSound, LaidTake } from '../work/laid-sound.ts';
import { NO_SOUND_LUFS, type TakeLoudness } from '../work/tasks/measure-take.ts';
import { findMusic } from './blend.ts';
import type { CleanedTake } from './clean-taken.ts';
import type { KeyedSound } from './measure-taken.ts';
import type { MendedTake } from './mend-taken.ts';
import type { TakenIn } from './take-in.ts';

/** A take with all that a mix needs of it. */
export interface ReadyTake {
  readonly take: Take;
  readonly taken: TakenIn;
  /** undefined where the noise stays. */
  readonly cleaned: CleanedTake | undefined;
  /** undefined where nothing is mended. */
  readonly mended?: MendedTake | undefined;
  readonly placement: Placement;
  readonly loudness: TakeLoudness;
}

/** A voice made of passages. */
export interface Composed {
  readonly passages: readonly Passage[];
  /** One a passage. */
  readonly parts: readonly (ReadyTake & { readonly gainDb: number })[];
  readonly joins: readonly ComposedJoin[];
  readonly matches: readonly JoinMatch[];
}

/** A take is brought to the level of the voice's main take by this much at most, dB. */
const MOST_GAIN_DB = 20;
/** What is left at a join is matched by this much at most, dB: more is no step but another piece of music. */
const MOST_MATCH_DB = 12;
/** Seconds between the values of a momentary curve. */
const STEP_SEC = 0.1;

/** The sound of a take that goes into the mix: mended, cleaned, or as it was recorded. */
export function soundOfTake({ taken, cleaned, mended }: Pick<ReadyTake, 'taken' | 'cleaned' | 'mended'>): KeyedSound {
  const { key, soundPath } = mended ?? cleaned ?? taken;
  return { key, soundPath, rateHz: taken.rateHz };
}

/** Where that sound lies. raw: as it was recorded, neither cleaned nor mended. */
export function laidTakeOf(take: Omit<ReadyTake, 'take' | 'loudness'>, raw = false): LaidTake {
  const { taken, placement } = take;
  return {
    soundPath: raw ? taken.soundPath : soundOfTake(take).soundPath,
    rateHz: taken.rateHz,
    place: clockOf(placement),
  };
}

/** The sound of a voice made of passages. */
export function laidPassagesOf({ parts, joins }: Composed, raw = false): LaidSound {
  return { parts: parts.map((part) => ({ sound: laidTakeOf(part, raw), gainDb: part.gainDb })), joins };
}

/** Loudness of a take's music, LUFS; null where there is none. Its gates leave out what is faint, wherever the piece lies. */
export function musicLufs({ loudness, placement }: Pick<ReadyTake, 'loudness' | 'placement'>): number | null {
  const { integratedLufs } = findMusic(loudness, placement, null);
  return Number.isFinite(integratedLufs) ? integratedLufs : null;
}

/**
 * Puts passages together: every take is brought to the loudness of the main one as a whole, and what differs at a join is
 * matched there. matches: one a join.
 */
export function compose(
  passages: readonly Passage[],
  ready: ReadonlyMap<string, ReadyTake>,
  mainTakeId: string,
  matches: readonly JoinMatch[],
): Composed {
  const main = ready.get(mainTakeId);
  const wantedLufs = main === undefined ? null : musicLufs(main);
  const parts = passages.map(({ takeId }) => {
    const part = ready.get(takeId)!;
    const ownLufs = musicLufs(part);
    const gainDb = takeId === mainTakeId || wantedLufs === null || ownLufs === null ? 0 : wantedLufs - ownLufs;
    return { ...part, gainDb: held(gainDb, MOST_GAIN_DB) };
  });
  const joins = matches.map((match, index): ComposedJoin => {
    const gains = parts[index]!.gainDb - parts[index + 1]!.gainDb;
    return {
      frame: secondsToFrames(passages[index + 1]!.fromSec, SESSION_RATE_HZ),
      fadeFrames: secondsToFrames(match.fadeSec, SESSION_RATE_HZ),
      stepDb: match.stepDb === null ? 0 : held(match.stepDb + gains, MOST_MATCH_DB),
      tiltDb: match.tiltDb,
      likeness: match.likeness,
    };
  });
  return { passages, parts, joins, matches };
}

function held(value: number, most: number): number {
  return Math.max(-most, Math.min(most, value));
}

/** Where blend and music span think such a voice lies: on the session's time line already. */
export function placementOf({ parts }: Composed): Placement {
  const first = parts[0]!.placement;
  return {
    ...first,
    offsetSec: 0,
    driftPpm: 0,
    bends: [],
    trail: [],
    uncertaintySec: Math.max(...parts.map(({ placement }) => placement.uncertaintySec)),
    evidence: first.evidence.map((one) => ({
      ...one,
      takeSec: sessionSecOf(first, one.takeSec),
      offsetSec: 0,
    })),
  };
}

const composedBefore = new WeakMap<TakeLoudness, { key: string; loudness: TakeLoudness }>();

/**
 * The loudness of a voice made of passages, in session time, from the curves of its takes: to a tenth of a second at a
 * join, which the blend cannot tell from measuring it.
 */
export function loudnessOf(composed: Composed): TakeLoudness {
  const { passages, parts, joins } = composed;
  const places = parts.map(({ take, placement, gainDb }) => [take.id, clockOf(placement), gainDb]);
  const key = JSON.stringify([joins, places]);
  const known = composedBefore.get(parts[0]!.loudness);
  if (known?.key === key) return known.loudness;
  const momentaryLufs: number[] = [];
  parts.forEach(({ loudness, placement, gainDb }, index) => {
    const level = new PartLevel(gainDb, joins[index - 1], joins[index], SESSION_RATE_HZ);
    const values = loudness.momentaryLufs;
    const endSec = sessionSecOf(placement, values.length * STEP_SEC);
    const isLast = index === parts.length - 1;
    const toSec = isLast ? endSec : passages[index]!.toSec;
    for (let n = momentaryLufs.length; n * STEP_SEC < toSec; n++) {
      const atSec = n * STEP_SEC;
      const value = values[Math.round(takeSecOf(placement, atSec) / STEP_SEC)];
      const isSilent = value === undefined || value <= NO_SOUND_LUFS;
      momentaryLufs.push(isSilent ? NO_SOUND_LUFS : value + level.at(atSec * SESSION_RATE_HZ));
    }
  });
  const whole = integratedLufs(Float64Array.from(momentaryLufs, (lufs) => 10 ** ((lufs + 0.691) / 10)));
  const made = { integratedLufs: Number.isFinite(whole) ? whole : null, momentaryLufs };
  composedBefore.set(parts[0]!.loudness, { key, loudness: made });
  return made;
}
