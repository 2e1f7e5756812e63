import { type Clock, clockOf, driftPpmAt, sessionSecOf, takeSecOf } from '../signal/clock.ts';
import type { FoundPlace, Mend, Placement, Span, Take } from './schema.ts';

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
