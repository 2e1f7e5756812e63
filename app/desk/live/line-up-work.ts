import { foundOf, withFindings } from '../../../core/session/anchors.ts';
import type { Edit } from '../../../core/session/edit.ts';
import { guideMarks, type KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Placement, Session } from '../../../core/session/schema.ts';
import { Cache } from '../cache.ts';
import { lineUpTaken } from '../line-up-clips.ts';
import { isUnplaced, keptPlacement } from '../placement.ts';
import { STEP_VERSION } from '../steps.ts';
import type { TakenIn } from '../take-in.ts';
import { type Bench, use } from './bench.ts';
import type { ClipProgress, TakeProgress } from './take-state.ts';

/** What the line-up found, by take id; undefined while it is not known. */
export type Found = ReadonlyMap<string, Placement>;

/**
 * Asks for the line-up of all takes that can be read, once every clip has been read. With a guide each take is placed by
 * itself, so that only those are placed that were not before; without one, all are placed against one another.
 */
export function needLineUp(
  bench: Bench,
  takes: readonly TakeProgress[],
  guide: ClipProgress | undefined,
  plan: KeptPlan | null,
): { found: Found | undefined; fault: unknown } {
  const unread = takes.some((take) => take.reading !== 'over') || (guide !== undefined && guide.reading !== 'over');
  const placeable = takes.filter(({ taken }) => taken !== undefined && taken.trace !== null);
  if (unread || placeable.length === 0) return { found: undefined, fault: null };
  const heard = guide?.taken;
  // A guide that is only away will be back: what was found with it stays, and nothing is placed without it meanwhile.
  if (heard === undefined && guide?.look === 'missing') return { found: undefined, fault: null };
  return heard === undefined ? needTogether(bench, placeable) : needAgainstGuide(bench, placeable, heard, plan);
}

function needTogether(bench: Bench, takes: readonly TakeProgress[]): { found: Found | undefined; fault: unknown } {
  const key = Cache.keyOf('lineUp', STEP_VERSION.lineUp, null, ...takes.map(({ taken }) => taken!.key));
  use(bench, key);
  const standing = bench.ledger.need<readonly Placement[]>({
    key: `lineUp:${key}`,
    stage: 'lineUp',
    known: () => (bench.anew.size > 0 ? undefined : bench.cache.record<Placement[]>(key)),
    run: async (signal, onProgress) => {
      const found = await lineUpTaken(takesOf(takes), undefined, bench.pool, { signal, onProgress });
      const placements = found.map(keptPlacement);
      bench.cache.keep(key, placements);
      bench.anew.clear();
      return placements;
    },
  });
  if (standing.state === 'fault') return { found: undefined, fault: standing.fault };
  if (standing.state !== 'done') return { found: undefined, fault: null };
  return { found: new Map(takes.map((take, index) => [take.id, standing.value[index]!])), fault: null };
}

function needAgainstGuide(
  bench: Bench,
  takes: readonly TakeProgress[],
  guide: TakenIn,
  plan: KeptPlan | null,
): { found: Found | undefined; fault: unknown } {
  const marks = plan === null ? [] : [guideMarks(plan)];
  const keyOf = (taken: TakenIn): string => Cache.keyOf('lineUp', STEP_VERSION.lineUp, guide.key, taken.key, ...marks);
  const found = new Map<string, Placement>();
  const fresh: TakeProgress[] = [];
  use(bench, ...takes.map(({ taken }) => keyOf(taken!)));
  for (const take of takes) {
    const placement = bench.anew.has(take.id) ? undefined : placedBefore(bench, keyOf(take.taken!));
    if (placement === undefined) fresh.push(take);
    else found.set(take.id, placement);
  }
  if (fresh.length === 0) return { found, fault: null };
  const standing = bench.ledger.need<null>({
    key: `lineUp:${keyOf(guide)}:${fresh.map(({ taken }) => taken!.key).join()}`,
    stage: 'lineUp',
    run: async (signal, onProgress) => {
      const placements = await lineUpTaken(takesOf(fresh), guide, bench.pool, { signal, plan, onProgress });
      fresh.forEach(({ id, taken }, index) => {
        const placement = keptPlacement(placements[index]!);
        bench.cache.keep(keyOf(taken!), placement);
        bench.placed.set(keyOf(taken!), placement);
        bench.anew.delete(id);
      });
      return null;
    },
  });
  return { found, fault: standing.state === 'fault' ? standing.fault : null };
}

/** Remembered, so that the disk is asked once. */
function placedBefore(bench: Bench, key: string): Placement | undefined {
  const record = bench.placed.get(key) ?? bench.cache.record<Placement>(key);
  if (record !== undefined) bench.placed.set(key, record);
  return record;
}

function takesOf(takes: readonly TakeProgress[]): TakenIn[] {
  return takes.map(({ taken }) => taken!);
}

/**
 * What the session is to take over from the line-up: placements of takes that nobody placed by hand, where they differ
 * from what it has; of those that the user laid, what speaks for another place, and nothing of where they lie. Without a guide the zero of what was found lies where the earliest take begins. Where a take was
 * placed by hand, or cannot be placed now (its clip is missing), all is moved until the first take that was found before
 * lies where it lay, so that such takes keep their neighbours.
 */
export function findingsFor(session: Session, found: Found): Edit | undefined {
  const isHeld = session.takes.some(
    ({ id, placement }) => placement?.by === 'user' || (placement !== null && !found.has(id)),
  );
  const bySec = session.guide === null && isHeld ? anchorShift(session, found) : 0;
  const edits = session.takes.flatMap((take): Exclude<Edit, { kind: 'together' }>[] => {
    const one = found.get(take.id);
    if (one === undefined) return [];
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

/** The same but for what rounding leaves, so that nothing is found for ever. */
function isSame(one: unknown, other: unknown): boolean {
  const rounded = (_: string, value: unknown): unknown =>
    typeof value === 'number' ? Math.round(value * 1e9) / 1e9 : value;
  return JSON.stringify(one, rounded) === JSON.stringify(other, rounded);
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
