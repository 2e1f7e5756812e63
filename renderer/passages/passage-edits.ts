import type { FaultView, JoinView } from '../../app/shell/contract/desk-view.ts';
import {
  joinsOf,
  LEAST_PASSAGE_SEC,
  soundingTake,
  takeAt,
  withJoinAt,
  withoutJoin,
  withStretch,
} from '../../core/session/passages.ts';
import type { Passage, Session, Voice } from '../../core/session/schema.ts';
import { ask, edit, tell, useDesk } from '../desk/desk-store.ts';
import { say } from '../frame/said.tsx';
import { momentInWords } from '../lanes/bar-map.ts';
import { playStretch } from '../lanes/play-stretch.ts';
import { thePlayer } from '../playback/the-player.ts';

/** A place where takes can be joined, as the desk found it. */
export interface FoundPoint {
  readonly atSec: number;
  readonly kind: JoinView['kind'];
}

/** Around a join so much is heard to judge it, s. */
const AROUND_SEC = 2;
/** Where no better place lies that way, a join goes so far by hand, s. */
const STEP_SEC = 0.02;
/** Places closer than this to where the join is are not another place, s. */
const SAME_SEC = 0.008;
/** Another place is looked for so far along, s. */
const AHEAD_SEC = 0.45;

function now(): Session | undefined {
  return useDesk.getState().view?.session;
}

function voiceOf(voiceId: string): Voice | undefined {
  return now()?.voices.find((voice) => voice.id === voiceId);
}

/** undefined: it could not be asked, which was told. */
async function pointsNear(
  leftTakeId: string,
  rightTakeId: string,
  atSec: number,
): Promise<readonly FoundPoint[] | undefined> {
  const found = await ask((bridge) => bridge.calls.joinPoints({ leftTakeId, rightTakeId, atSec }));
  return found?.points;
}

function set(voiceId: string, passages: readonly Passage[]): void {
  edit({ kind: 'setPassages', voiceId, passages });
}

/**
 * Lets a voice sound with one of its takes from one session time to another, joined where rests or notes allow it near
 * both ends. Says what was done, or tells why nothing could be.
 */
export async function letSoundHere(
  voiceId: string,
  takeId: string,
  stretch: { readonly fromSec: number; readonly toSec: number },
): Promise<void> {
  const session = now();
  const voice = voiceOf(voiceId);
  const base = session === undefined || voice === undefined ? undefined : soundingTake(session, voice);
  if (voice === undefined) return;
  if (base === undefined) {
    edit({ kind: 'chooseTake', voiceId, takeId });
    say('The voice had no take; it sounds with this one now.');
    return;
  }
  const before = voice.passages ?? [];
  const leftTakeId = takeAt(before, stretch.fromSec - 1e-6) ?? base.id;
  const rightTakeId = takeAt(before, stretch.toSec) ?? base.id;
  const [begin, end] = await Promise.all([
    leftTakeId === takeId ? [] : pointsNear(leftTakeId, takeId, stretch.fromSec),
    rightTakeId === takeId ? [] : pointsNear(takeId, rightTakeId, stretch.toSec),
  ]);
  // Why there is none has been told.
  if (begin === undefined || end === undefined) return;
  if ((leftTakeId !== takeId && begin.length === 0) || (rightTakeId !== takeId && end.length === 0)) {
    tell(noPlace(takeId));
    return;
  }
  const { fromSec, toSec } = bestPair(begin, end, stretch);
  // The voice may have changed while the places were looked for.
  const current = voiceOf(voiceId);
  if (current === undefined) return;
  set(voiceId, withStretch(current.passages, base.id, { takeId, fromSec, toSec }));
  say(`${takeName(takeId)} is used from ${moment(fromSec)} to ${moment(toSec)}.`);
}

/** The best places whose order is right; the wished times where there are none. */
export function bestPair(
  begin: readonly FoundPoint[],
  end: readonly FoundPoint[],
  wished: { readonly fromSec: number; readonly toSec: number },
): { fromSec: number; toSec: number } {
  const begins = begin.length === 0 ? [wished.fromSec] : begin.map((one) => one.atSec);
  const ends = end.length === 0 ? [wished.toSec] : end.map((one) => one.atSec);
  for (const fromSec of begins) {
    const toSec = ends.find((one) => one - fromSec >= LEAST_PASSAGE_SEC);
    if (toSec !== undefined) return { fromSec, toSec };
  }
  return { fromSec: wished.fromSec, toSec: Math.max(wished.toSec, wished.fromSec + LEAST_PASSAGE_SEC) };
}

/** Puts a join to the best place near a session time, and says where it is then. */
export async function joinNear(voiceId: string, index: number, wishedSec: number): Promise<void> {
  const join = joinsOf(voiceOf(voiceId)?.passages ?? null)[index];
  if (join === undefined) return;
  const points = await pointsNear(join.leftTakeId, join.rightTakeId, wishedSec);
  if (points === undefined) return;
  if (points[0] === undefined) tell(noPlace(join.rightTakeId));
  else putJoin(voiceId, index, points[0]);
}

/** Puts a join to the next place before it (-1) or after it (1), and says where it is then. */
export async function joinAlong(voiceId: string, index: number, sense: -1 | 1): Promise<void> {
  const join = joinsOf(voiceOf(voiceId)?.passages ?? null)[index];
  if (join === undefined) return;
  const points = await pointsNear(join.leftTakeId, join.rightTakeId, join.atSec + sense * AHEAD_SEC);
  if (points !== undefined) putJoin(voiceId, index, nextPoint(points, join.atSec, sense));
}

/** The nearest rest or note that way; a small step where there is none. */
export function nextPoint(points: readonly FoundPoint[], atSec: number, sense: -1 | 1): FoundPoint {
  const along = points
    .filter((one) => one.kind !== 'held' && sense * (one.atSec - atSec) > SAME_SEC)
    .sort((one, other) => sense * (one.atSec - other.atSec));
  return along[0] ?? { atSec: atSec + sense * STEP_SEC, kind: 'held' };
}

function putJoin(voiceId: string, index: number, point: FoundPoint): void {
  const passages = voiceOf(voiceId)?.passages;
  if (passages === null || passages === undefined) return;
  set(voiceId, withJoinAt(passages, index, point.atSec));
  say(`The join is at ${moment(point.atSec)} now, ${kindWords[point.kind]}.`);
}

/** Takes a join away: the take before it goes on. */
export function removeJoin(voiceId: string, index: number): void {
  const passages = voiceOf(voiceId)?.passages;
  if (passages !== null && passages !== undefined) set(voiceId, withoutJoin(passages, index));
}

/** Plays from two seconds before a join to two seconds after it: the voice as it sounds, whatever was heard alone before. */
export function hearJoin(atSec: number): void {
  thePlayer().setAudition(null);
  playStretch({ fromSec: Math.max(0, atSec - AROUND_SEC), toSec: atSec + AROUND_SEC });
}

/** What lies at a join. */
export const kindWords: Readonly<Record<JoinView['kind'], string>> = {
  rest: 'in a rest',
  beginning: 'just before a note',
  held: 'within a tone',
};

function moment(sec: number): string {
  return momentInWords(now()?.guide?.plan ?? null, sec);
}

function noPlace(takeId: string): FaultView {
  return {
    code: 'bad-option',
    message: `${takeName(takeId)} and the take it should meet do not both sound there, so they cannot be joined.`,
    nextStep: 'Choose a stretch in which both play.',
    file: null,
  };
}

function takeName(takeId: string): string {
  return now()?.takes.find((take) => take.id === takeId)?.name ?? 'The take';
}
