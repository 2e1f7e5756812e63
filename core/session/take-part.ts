import { type Clock, clockOf, driftPpmAt, sessionSecOf, takeSecOf } from '../signal/clock.ts';
import type { Edit } from './edit.ts';
import type { FoundPlace, Mend, Placement, Session, Span, Take } from './schema.ts';

/** A take holds at least so much of its clip, s. */
export const LEAST_PART_SEC = 2;

/** The clock of a recording from one of its own times on, s, which becomes time zero; a negative time begins before it. */
export function clockFrom(clock: Clock, zeroSec: number): Clock {
  const bends = (clock.bends ?? [])
    .filter((bend) => bend.takeSec > Math.max(0, zeroSec))
    .map((bend) => ({ ...bend, takeSec: bend.takeSec - zeroSec }));
  const isBefore = zeroSec <= 0;
  return clockOf({
    offsetSec: sessionSecOf(clock, zeroSec),
    driftPpm: isBefore ? clock.driftPpm : driftPpmAt(clock, zeroSec),
    bends: isBefore ? clock.bends?.map((bend) => ({ ...bend, takeSec: bend.takeSec - zeroSec })) : bends,
  });
}

/**
 * Where the whole clip of a take lies, for what knows clip time only (its picture): the one place where the time of a take
 * and that of its clip meet. clock: the take's.
 */
export function clockOfClip(clock: Clock, part: Span | null): Clock {
  return part === null || part.fromSec === 0 ? clock : clockFrom(clock, -part.fromSec);
}

/**
 * A take that is another part of its clip from now on: whatever is told in its own time stays where it was in the clip,
 * and so sounds where it sounded. null: the whole clip.
 */
export function withPart(take: Take, part: Span | null): Take {
  const bySec = (part?.fromSec ?? 0) - (take.part?.fromSec ?? 0);
  if (bySec === 0) return { ...take, part };
  return {
    ...take,
    part,
    silence: take.silence === null ? null : silenceFrom(take.silence, bySec),
    placement: take.placement === null ? null : placementFrom(take.placement, bySec),
    mend: take.mend === null ? null : mendFrom(take.mend, bySec),
  };
}

function silenceFrom({ fromSec, toSec }: Span, bySec: number): Span | null {
  return toSec - bySec <= 0 ? null : { fromSec: Math.max(0, fromSec - bySec), toSec: toSec - bySec };
}

function placedFrom(clock: Clock, bySec: number): Pick<FoundPlace, 'offsetSec' | 'driftPpm' | 'bends'> {
  const { bends, ...rest } = clockFrom(clock, bySec);
  return bends === undefined ? rest : { ...rest, bends: [...bends] };
}

function placementFrom(placement: Placement, bySec: number): Placement {
  const { bends: _, found, trail, ...rest } = placement;
  const moved = placedFrom(placement, bySec);
  return {
    ...rest,
    ...moved,
    ...(trail === undefined ? {} : { trail: trail.map((one) => ({ ...one, takeSec: one.takeSec - bySec })) }),
    evidence: placement.evidence.map((one) => ({
      ...one,
      takeSec: one.takeSec - bySec,
      offsetSec: one.offsetSec + (moved.offsetSec - placement.offsetSec),
      ...(one.anchor == null
        ? {}
        : {
            anchor: {
              ...one.anchor,
              jumpTakeSec: one.anchor.jumpTakeSec === null ? null : one.anchor.jumpTakeSec - bySec,
            },
          }),
    })),
    ...(found === undefined ? {} : { found: foundFrom(found, bySec) }),
  };
}

function foundFrom(found: FoundPlace, bySec: number): FoundPlace {
  const { bends: _, ...rest } = found;
  return { ...rest, ...placedFrom(found, bySec) };
}

function mendFrom({ cents, curve, nudges }: Mend, bySec: number): Mend {
  return {
    cents,
    curve: curve.map((one) => ({ ...one, atSec: one.atSec - bySec })),
    nudges: nudges.map((one) => ({ ...one, fromSec: one.fromSec - bySec, toSec: one.toSec - bySec })),
  };
}

/**
 * The stretch of a take's clip, clip time, that sounds in a stretch of session time; it may reach beyond the take into the
 * rest of its clip. null where it holds less than LEAST_PART_SEC, and for a take that has no place.
 */
export function stretchOfClip(take: Take, stretch: Span, clipSec: number): Span | null {
  if (take.placement === null) return null;
  const clock = clockOfClip(clockOf(take.placement), take.part);
  const fromSec = Math.max(0, takeSecOf(clock, stretch.fromSec));
  const toSec = Math.min(clipSec, takeSecOf(clock, stretch.toSec));
  return toSec - fromSec < LEAST_PART_SEC ? null : { fromSec, toSec };
}

/** A part that is to be a take. */
export interface WantedPart extends Span {
  /** It was broken off: the player is taken not to want it. */
  readonly isBrokenOff?: boolean;
}

/**
 * Makes several takes of the clip of one: it becomes the first part that is whole, and keeps its mark and what was chosen; the
 * others follow with its cleaning, and are lined up by themselves. All are named after it in their order, "name, 1". One step
 * of undo. parts: clip time, s, in order. ids: not yet in use, one for each part but one.
 */
export function splitEdit(session: Session, take: Take, parts: readonly WantedPart[], ids: readonly string[]): Edit {
  if (parts.length < 2 || ids.length < parts.length - 1) {
    throw new RangeError(
      `${parts.length} parts and ${ids.length} ids given; allowed 2 parts or more, and an id for each but one`,
    );
  }
  const own = Math.max(
    0,
    parts.findIndex(({ isBrokenOff }) => isBrokenOff !== true),
  );
  const nameOf = (n: number): string => `${take.name.slice(0, 190)}, ${n + 1}`;
  let used = 0;
  const edits = parts.flatMap(({ fromSec, toSec, isBrokenOff }, n): Exclude<Edit, { kind: 'together' }>[] => {
    const part = { fromSec, toSec };
    if (n === own) {
      return [
        { kind: 'setPart', takeId: take.id, part },
        { kind: 'renameTake', takeId: take.id, name: nameOf(n) },
      ];
    }
    const made = partTake(take, part, ids[used++]!, nameOf(n));
    return [{ kind: 'addTake', take: isBrokenOff === true ? { ...made, mark: 'no' } : made }];
  });
  edits.push(...chosenStill(session, take));
  return { kind: 'together', label: `make ${parts.length} takes of ${take.name}`.slice(0, 200), edits };
}

/** Makes a stretch of a take's clip a take of its own, beside it. part: clip time, s. */
export function partEdit(session: Session, take: Take, part: Span, id: string): Edit {
  const names = new Set(session.takes.map(({ name }) => name));
  const stem = take.name.slice(0, 190);
  let n = 2;
  while (names.has(`${stem}, ${n}`)) n++;
  const edits: Exclude<Edit, { kind: 'together' }>[] = [
    { kind: 'addTake', take: partTake(take, part, id, `${stem}, ${n}`) },
  ];
  edits.push(...chosenStill(session, take));
  return { kind: 'together', label: `make a stretch of ${take.name} a take`.slice(0, 200), edits };
}

/** A voice that sounded with its only take without a choice would fall silent with several. */
function chosenStill(session: Session, take: Take): Exclude<Edit, { kind: 'together' }>[] {
  const voice = session.voices.find((one) => one.id === take.voiceId);
  const isOnly = session.takes.filter((one) => one.voiceId === take.voiceId).length === 1;
  if (voice === undefined || voice.chosenTakeId !== null || !isOnly) return [];
  return [{ kind: 'chooseTake', voiceId: voice.id, takeId: take.id }];
}

function partTake(take: Take, part: Span, id: string, name: string): Take {
  return { ...take, id, name, part, silence: null, placement: null, mend: null, mark: 'none', remark: '' };
}
