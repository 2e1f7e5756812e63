import type { JoinMatch } from '../../core/mix/join.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import { Cache } from './cache.ts';
import { laidTakeOf, musicLufs, type ReadyTake, soundOfTake } from './composed-voice.ts';
import { STEP_VERSION } from './steps.ts';

/** Two takes of a voice that meet at a session time. */
export interface JoinWish {
  readonly left: ReadyTake;
  readonly right: ReadyTake;
  readonly atSec: number;
}

/** The key under which it is kept how two takes go over into each other: both sounds by content, where they lie, and the time. */
export function joinKey({ left, right, atSec }: JoinWish): string {
  const sides = [left, right].map((one) => {
    const { soundPath: _, ...laid } = laidTakeOf(one);
    return [soundOfTake(one).key, laid, musicLufs(one)];
  });
  return Cache.keyOf('join', STEP_VERSION.join, sides, atSec);
}

/** Finds how takes are joined, in the order of the wishes; what was found before comes from the cache. */
export async function matchTaken(
  wishes: readonly JoinWish[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<JoinMatch[]> {
  const keys = wishes.map(joinKey);
  const fresh = wishes.filter((_, index) => cache.record(keys[index]!) === undefined);
  if (fresh.length > 0) {
    const joins = fresh.map(({ left, right, atSec }) => ({
      left: laidTakeOf(left),
      right: laidTakeOf(right),
      leftLufs: musicLufs(left),
      rightLufs: musicLufs(right),
      atSec,
    }));
    const found = await pool.run('matchJoins', { joins }, options);
    fresh.forEach((wish, index) => {
      cache.keep(joinKey(wish), found[index]!);
    });
  }
  return keys.map((key) => cache.record<JoinMatch>(key)!);
}
