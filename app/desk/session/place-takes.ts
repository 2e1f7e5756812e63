import { type Found, findingsFor } from '../line-up-findings.ts';
import { lineUpTaken } from '../line-up-taken.ts';
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
  const placements = await lineUpTaken(takes, guide, desk.cache, desk.pool, {
    ...runs(running, `Lining up ${countOf(takes.length)}`),
    plan,
    anew,
  });
  const found: Found = new Map(asked.map(({ id }, index) => [id, placements[index]!]));
  draft.find(findingsFor(session, found, anew ? undefined : new Set(wanted.map(({ id }) => id))));
}
