import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Placement } from '../../../core/session/schema.ts';
import type { Found } from '../line-up-findings.ts';
import { againstGuideKey, lineUpTaken, togetherKey } from '../line-up-taken.ts';
import type { TakenIn } from '../take-in.ts';
import { type Bench, use } from './bench.ts';
import type { ClipProgress, TakeProgress } from './take-state.ts';

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
  const key = togetherKey(takesOf(takes));
  use(bench, key);
  const standing = bench.ledger.need<readonly Placement[]>({
    key: `lineUp:${key}`,
    stage: 'lineUp',
    known: () => (bench.anew.size > 0 ? undefined : bench.cache.record<Placement[]>(key)),
    run: async (signal, onProgress) => {
      const lining = { signal, onProgress, anew: bench.anew.size > 0 };
      const placements = await lineUpTaken(takesOf(takes), undefined, bench.cache, bench.pool, lining);
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
  const keyOf = (taken: TakenIn): string => againstGuideKey(taken, guide, plan);
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
      // None of these is to be taken from what was found before.
      const lining = { signal, plan, onProgress, anew: true };
      const placements = await lineUpTaken(takesOf(fresh), guide, bench.cache, bench.pool, lining);
      fresh.forEach(({ id, taken }, index) => {
        bench.placed.set(keyOf(taken!), placements[index]!);
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
