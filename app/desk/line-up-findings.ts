import { foundOf, withFindings } from '../../core/session/anchors.ts';
import type { Edit } from '../../core/session/edit.ts';
import type { Placement, Session } from '../../core/session/schema.ts';
import { isUnplaced } from './placement.ts';

/** What the line-up found, by take id. */
export type Found = ReadonlyMap<string, Placement>;

/**
 * What the session is to take over from the line-up: placements of takes that nobody placed by hand, where they differ
 * from what it has; of those that the user laid, what speaks for another place, and nothing of where they lie. Without a guide
 * the zero of what was found lies where the earliest take begins. Where session time is held by something (a take placed by
 * hand, or one that cannot be placed now since its clip is missing, or a voice of passages, whose joins are session times), all
 * is moved until the first take that was found before lies where it lay. only: takes of which alone something is taken over; the
 * others then hold the time too.
 */
export function findingsFor(session: Session, found: Found, only?: ReadonlySet<string>): Edit | undefined {
  const isHeld =
    only !== undefined ||
    session.voices.some(({ passages }) => passages !== null) ||
    session.takes.some(({ id, placement }) => placement?.by === 'user' || (placement !== null && !found.has(id)));
  const bySec = session.guide === null && isHeld ? anchorShift(session, found) : 0;
  const edits = session.takes.flatMap((take): Exclude<Edit, { kind: 'together' }>[] => {
    const one = found.get(take.id);
    if (one === undefined || only?.has(take.id) === false) return [];
    const heard = shifted(one, bySec);
    if (take.placement !== null && isKnown(take.placement, heard)) return [];
    const placement = take.placement?.by === 'user' ? withFindings(take.placement, heard) : heard;
    return [{ kind: 'setPlacement', takeId: take.id, placement }];
  });
  return edits.length === 0 ? undefined : { kind: 'together', label: 'line up', edits };
}

/** Nothing of what was found is new to a placement. One that the user laid is only to know what it can go back to. */
function isKnown(placement: Placement, found: Placement): boolean {
  if (placement.by === 'found') return isSame(found, placement);
  const isBackKnown = placement.found === undefined || isSame(foundOf(found), placement.found);
  return isBackKnown && isSame(found.trail, placement.trail);
}

/** The same but for what rounding leaves and for the order of fields, which a check changes: else it would be found for ever. */
function isSame(one: unknown, other: unknown): boolean {
  const plain = (_: string, value: unknown): unknown => {
    if (typeof value === 'number') return Math.round(value * 1e9) / 1e9;
    if (typeof value !== 'object' || value === null || Array.isArray(value)) return value;
    return Object.fromEntries(Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1)));
  };
  return JSON.stringify(one, plain) === JSON.stringify(other, plain);
}

function anchorShift(session: Session, found: Found): number {
  for (const by of ['found', 'user'] as const) {
    for (const { id, placement } of session.takes) {
      const one = found.get(id);
      if (placement === null || one === undefined || placement.by !== by) continue;
      // Where the hand laid a take elsewhere, what counts is where it had been found.
      const before = foundOf(placement) ?? placement;
      if (isUnplaced(before) || isUnplaced(one)) continue;
      // Rounded, since a shift forth and back leaves a little that would go on for ever.
      return Math.round((before.offsetSec - one.offsetSec) * 1e9) / 1e9;
    }
  }
  return 0;
}

function shifted(placement: Placement, bySec: number): Placement {
  if (bySec === 0) return placement;
  return {
    ...placement,
    offsetSec: placement.offsetSec + bySec,
    ...(placement.trail === undefined
      ? {}
      : { trail: placement.trail.map((one) => ({ ...one, atSec: one.atSec + bySec })) }),
    evidence: placement.evidence.map((one) => ({
      ...one,
      atSec: one.atSec + bySec,
      offsetSec: one.offsetSec + bySec,
    })),
  };
}
