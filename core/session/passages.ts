import type { Passage, Session, Take, Voice } from './schema.ts';

/**
 * A voice made of passages sounds with one take after another. Passages follow one another without gaps in session time;
 * where one ends and the next begins is a join. The outer ends are open: the first passage sounds from the beginning and
 * the last to the end, whatever their own times say there, so that a take that is placed anew loses nothing.
 */

/** No passage is shorter than this, s: two fades of the longest kind must not meet. */
export const LEAST_PASSAGE_SEC = 0.25;

/** The place where a voice changes from one take to the next. */
export interface JoinPlace {
  /** Session time. */
  readonly atSec: number;
  readonly leftTakeId: string;
  readonly rightTakeId: string;
}

/** The joins of passages, in order. */
export function joinsOf(passages: readonly Passage[] | null): JoinPlace[] {
  return (passages ?? []).slice(1).map((passage, index) => ({
    atSec: passage.fromSec,
    leftTakeId: passages![index]!.takeId,
    rightTakeId: passage.takeId,
  }));
}

/**
 * The take a voice sounds with, or that it is mainly made of: the chosen one, else its only one, else that of its first
 * passage; undefined when it has none.
 */
export function soundingTake(session: Session, voice: Voice): Take | undefined {
  const own = session.takes.filter((take) => take.voiceId === voice.id);
  return (
    own.find((take) => take.id === voice.chosenTakeId) ??
    (own.length === 1 ? own[0] : own.find((take) => take.id === voice.passages?.[0]?.takeId))
  );
}

/** The passages a voice sounds with, two or more; null where it sounds with one take alone. */
export function soundingPassages(voice: Voice): readonly Passage[] | null {
  return voice.passages;
}

/** All takes that are heard of a voice, each once. */
export function heardTakes(session: Session, voice: Voice): Take[] {
  const passages = voice.passages ?? [];
  if (passages.length === 0) {
    const main = soundingTake(session, voice);
    return main === undefined ? [] : [main];
  }
  const ids = new Set(passages.map(({ takeId }) => takeId));
  return session.takes.filter((take) => ids.has(take.id));
}

/** The take that sounds at a session time. */
export function takeAt(passages: readonly Passage[], atSec: number): string | undefined {
  return (passages.find((passage) => atSec < passage.toSec) ?? passages.at(-1))?.takeId;
}

/**
 * A take is used from fromSec to toSec; what was there before goes on around it. baseTakeId: the take of a voice that has
 * no passages yet. Stretches shorter than LEAST_PASSAGE_SEC go to a neighbour.
 */
export function withStretch(passages: readonly Passage[] | null, baseTakeId: string, stretch: Passage): Passage[] {
  const { takeId, fromSec, toSec } = stretch;
  const before =
    passages === null || passages.length === 0
      ? [{ takeId: baseTakeId, fromSec: Math.min(0, fromSec - 1), toSec: toSec + 1 }]
      : passages;
  const opened = before.map((passage, index) => ({
    ...passage,
    fromSec: index === 0 ? Math.min(passage.fromSec, fromSec - 1) : passage.fromSec,
    toSec: index === before.length - 1 ? Math.max(passage.toSec, toSec + 1) : passage.toSec,
  }));
  return tidy([
    ...opened.filter((one) => one.fromSec < fromSec).map((one) => ({ ...one, toSec: Math.min(one.toSec, fromSec) })),
    { takeId, fromSec, toSec },
    ...opened.filter((one) => one.toSec > toSec).map((one) => ({ ...one, fromSec: Math.max(one.fromSec, toSec) })),
  ]);
}

/** The passages with one join moved, so far as its neighbours let it. index: of the join, from 0. */
export function withJoinAt(passages: readonly Passage[], index: number, atSec: number): Passage[] {
  const left = passages[index];
  const right = passages[index + 1];
  if (left === undefined || right === undefined) return [...passages];
  const isFirst = index === 0;
  const isLast = index + 2 === passages.length;
  const least = isFirst ? Number.NEGATIVE_INFINITY : left.fromSec + LEAST_PASSAGE_SEC;
  const most = isLast ? Number.POSITIVE_INFINITY : right.toSec - LEAST_PASSAGE_SEC;
  const at = Math.max(least, Math.min(most, atSec));
  return passages
    .with(index, { ...left, fromSec: isFirst ? Math.min(left.fromSec, at - 1) : left.fromSec, toSec: at })
    .with(index + 1, { ...right, fromSec: at, toSec: isLast ? Math.max(right.toSec, at + 1) : right.toSec });
}

/** The passages without one join: the take before it goes on over what came after it, up to the next join. */
export function withoutJoin(passages: readonly Passage[], index: number): Passage[] {
  const left = passages[index];
  if (left === undefined || passages[index + 1] === undefined) return [...passages];
  return tidy(passages.with(index + 1, { ...passages[index + 1]!, takeId: left.takeId }));
}

/** The passages without a take: its neighbours take over; null when no other take is left. The same where it is not in. */
export function withoutTake(passages: readonly Passage[], takeId: string): Passage[] | null {
  if (!passages.some((passage) => passage.takeId === takeId)) return passages as Passage[];
  const others = passages.map((passage, index) => {
    if (passage.takeId !== takeId) return passage;
    const heir =
      passages.slice(0, index).findLast((one) => one.takeId !== takeId) ??
      passages.slice(index).find((one) => one.takeId !== takeId);
    return { ...passage, takeId: heir?.takeId ?? takeId };
  });
  const tidied = tidy(others);
  return tidied.length === 1 && tidied[0]!.takeId === takeId ? null : tidied;
}

/** Neighbours of one take become one passage, and none is too short but the outer ones, which are open. */
function tidy(passages: readonly Passage[]): Passage[] {
  const done: Passage[] = [];
  for (const [index, passage] of passages.entries()) {
    const last = done.at(-1);
    const isInner = index > 0 && index < passages.length - 1;
    const isShort = isInner && passage.toSec - passage.fromSec < LEAST_PASSAGE_SEC;
    if (last !== undefined && (last.takeId === passage.takeId || isShort)) {
      done[done.length - 1] = { ...last, toSec: passage.toSec };
    } else done.push(passage);
  }
  return done;
}
