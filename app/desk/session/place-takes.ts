import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Placement } from '../../../core/session/schema.ts';
import type { Desk } from '../desk.ts';
import { againstGuideKey, lineUpTaken, togetherKey } from '../line-up-clips.ts';
import { type Found, findingsFor } from '../line-up-findings.ts';
import { keptPlacement } from '../placement.ts';
import { countOf } from '../render-mix.ts';
import type { TakenIn } from '../take-in.ts';
import type { Draft } from './draft.ts';
import { readGuide, readTakes, type TakesRead } from './read-takes.ts';
import { type Running, runs } from './session-work.ts';

export interface PlaceChoice {
  /** Those that were found by themselves before, too. */
  readonly anew?: boolean;
  /** The session's guide, where it was read already. */
  readonly guide?: TakenIn | undefined;
}

/**
 * Lines up the takes of a draft that have no place yet; those that have one keep it. read: what was read of the takes already. With a guide each take is placed by itself; without one all are
 * placed against one another, so that all are read. What is found is kept under the desk's own keys, which then need not look again.
 */
export async function placeTakes(
  draft: Draft,
  read: TakesRead,
  running: Running,
  { anew = false, guide: known }: PlaceChoice = {},
): Promise<void> {
  const { session, desk } = draft;
  const wanted = session.takes.filter(({ placement }) => placement === null || (anew && placement.by === 'found'));
  if (wanted.length === 0) return;
  const plan = session.guide?.plan ?? null;
  const guide = known ?? (await readGuide(session, desk, running));
  const asked = guide === undefined ? session.takes : wanted;
  const rest = asked.filter(({ id }) => !read.has(id));
  const more = rest.length === 0 ? new Map<string, TakenIn>() : await readTakes(rest, desk, running);
  const takes = asked.map(({ id }) => (read.get(id) ?? more.get(id))!);
  const placements = await placed(takes, guide, plan, desk, running, anew);
  const found: Found = new Map(asked.map(({ id }, index) => [id, placements[index]!]));
  draft.find(findingsFor(session, found, anew ? undefined : new Set(wanted.map(({ id }) => id))));
}

async function placed(
  takes: readonly TakenIn[],
  guide: TakenIn | undefined,
  plan: KeptPlan | null,
  desk: Desk,
  running: Running,
  anew: boolean,
): Promise<readonly Placement[]> {
  const { cache, pool } = desk;
  const find = async (some: readonly TakenIn[]): Promise<Placement[]> => {
    const lining = { ...runs(running, `Lining up ${countOf(some.length)}`), plan };
    return (await lineUpTaken(some, guide, pool, lining)).map(keptPlacement);
  };
  if (guide === undefined) {
    const key = togetherKey(takes);
    const before = anew ? undefined : cache.record<Placement[]>(key);
    const placements = before ?? (await find(takes));
    if (before === undefined) cache.keep(key, placements);
    return placements;
  }
  const keyOf = (taken: TakenIn): string => againstGuideKey(taken, guide, plan);
  const fresh = takes.filter((taken) => anew || cache.record(keyOf(taken)) === undefined);
  if (fresh.length > 0) {
    const placements = await find(fresh);
    fresh.forEach((taken, index) => {
      cache.keep(keyOf(taken), placements[index]);
    });
  }
  return takes.map((taken) => cache.record<Placement>(keyOf(taken))!);
}
