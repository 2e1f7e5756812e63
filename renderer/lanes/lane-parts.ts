import { soundingTake } from '../../core/session/passages.ts';
import type { Passage, Session, Take, Voice } from '../../core/session/schema.ts';
import type { LaneWave, Stretch } from './lane-scene.ts';

/** A stretch of a lane that is drawn by itself. The outer ones are open. */
export interface LanePart extends Stretch {
  readonly wave: LaneWave | null;
  /** It is heard. */
  readonly sounds: boolean;
}

/** A join as a lane shows it. */
export interface LaneJoin {
  readonly atSec: number;
  /** Of the joins of its voice, from 0. */
  readonly index: number;
  /** Number of the take that sounds from here on, from 1. */
  readonly takeNumber: number;
}

/** What the lane of a voice made of passages shows. */
export interface LanePassages {
  readonly parts: readonly LanePart[];
  readonly joins: readonly LaneJoin[];
  /** Number of the take that sounds first. */
  readonly firstNumber: number;
}

/** A voice's own lane: each take where it sounds; null for a voice with one take. */
export function voicePassages(
  voice: Voice,
  own: readonly Take[],
  waveOf: (take: Take) => LaneWave | null,
): LanePassages | null {
  const { passages } = voice;
  if (passages === null) return null;
  const takeOf = new Map(own.map((take) => [take.id, take]));
  const numberOf = (takeId: string): number => own.findIndex((take) => take.id === takeId) + 1;
  return {
    parts: opened(passages).map(({ takeId, fromSec, toSec }) => {
      const take = takeOf.get(takeId);
      return { fromSec, toSec, wave: take === undefined ? null : waveOf(take), sounds: true };
    }),
    joins: passages.slice(1).map((passage, index) => ({
      atSec: passage.fromSec,
      index,
      takeNumber: numberOf(passage.takeId),
    })),
    firstNumber: numberOf(passages[0]!.takeId),
  };
}

/** The lane of one take of such a voice: strong where it is used, pale elsewhere; null for a voice with one take. */
export function takePassages(voice: Voice, take: Take, wave: LaneWave | null): LanePassages | null {
  const { passages } = voice;
  if (passages === null) return null;
  return {
    parts: opened(passages).map(({ takeId, fromSec, toSec }) => ({ fromSec, toSec, wave, sounds: takeId === take.id })),
    joins: [],
    firstNumber: 0,
  };
}

/** Whether a take is heard anywhere in its voice. */
export function isHeard(session: Session, voice: Voice, take: Take): boolean {
  return voice.passages === null
    ? soundingTake(session, voice) === take
    : voice.passages.some((passage) => passage.takeId === take.id);
}

function opened(passages: readonly Passage[]): Passage[] {
  return passages.map((passage, index) => ({
    ...passage,
    fromSec: index === 0 ? Number.NEGATIVE_INFINITY : passage.fromSec,
    toSec: index === passages.length - 1 ? Number.POSITIVE_INFINITY : passage.toSec,
  }));
}
