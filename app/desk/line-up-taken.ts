import { guideMarks, type KeptPlan } from '../../core/session/kept-plan.ts';
import type { Placement } from '../../core/session/schema.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import { Cache } from './cache.ts';
import { keptPlacement } from './placement.ts';
import { STEP_VERSION } from './steps.ts';
import type { TakenIn } from './take-in.ts';

export interface LiningOptions extends RunOptions {
  /** That of the guide, where it has one. */
  readonly plan?: KeptPlan | null | undefined;
  /** What was found before does not count. */
  readonly anew?: boolean;
}

/** The key under which the placements of all takes against one another are kept. */
export function togetherKey(takes: readonly Pick<TakenIn, 'key'>[]): string {
  return Cache.keyOf('lineUp', STEP_VERSION.lineUp, null, ...takes.map(({ key }) => key));
}

/** The key under which the placement of a take against a guide is kept. */
export function againstGuideKey(
  taken: Pick<TakenIn, 'key'>,
  guide: Pick<TakenIn, 'key'>,
  plan: KeptPlan | null,
): string {
  const marks = plan === null ? [] : [guideMarks(plan)];
  return Cache.keyOf('lineUp', STEP_VERSION.lineUp, guide.key, taken.key, ...marks);
}

/**
 * Where takes that lie in the cache were found to lie, in their order, and keeps it there: against a guide each by itself, so that
 * only those are lined up that were not before; without one all against one another. What was laid by hand goes in nowhere.
 * Throws CancelledError.
 */
export async function lineUpTaken(
  takes: readonly TakenIn[],
  guide: TakenIn | undefined,
  cache: Cache,
  pool: WorkPool,
  options: LiningOptions = {},
): Promise<readonly Placement[]> {
  const { plan = null, anew = false, ...running } = options;
  if (guide === undefined) {
    const key = togetherKey(takes);
    const before = anew ? undefined : cache.record<readonly Placement[]>(key);
    if (before !== undefined) return before;
    const found = await find(takes, undefined, null, pool, running);
    cache.keep(key, found);
    return found;
  }
  const keys = takes.map((taken) => againstGuideKey(taken, guide, plan));
  const known = keys.map((key) => (anew ? undefined : cache.record<Placement>(key)));
  const fresh = takes.filter((_, index) => known[index] === undefined);
  const found = fresh.length === 0 ? [] : await find(fresh, guide, plan, pool, running);
  let next = 0;
  return known.map((before, index) => {
    if (before !== undefined) return before;
    const placement = found[next++]!;
    cache.keep(keys[index]!, placement);
    return placement;
  });
}

async function find(
  takes: readonly TakenIn[],
  guide: TakenIn | undefined,
  plan: KeptPlan | null,
  pool: WorkPool,
  running: RunOptions,
): Promise<Placement[]> {
  const inputOf = ({ file, soundPath, rateHz, tracePath, trace }: TakenIn) => {
    if (trace === null) throw new RangeError(`${file} was taken in without its trace`);
    return { soundPath, rateHz, tracePath, trace };
  };
  const { placements } = await pool.run(
    'lineUp',
    {
      takes: takes.map((taken, index) => ({ id: String(index), ...inputOf(taken) })),
      guide: guide && inputOf(guide),
      ...(guide === undefined || plan === null ? {} : { guideMarks: guideMarks(plan) }),
    },
    running,
  );
  return placements.map(keptPlacement);
}
