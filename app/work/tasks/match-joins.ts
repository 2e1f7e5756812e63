import { type JoinMatch, matchJoin } from '../../../core/mix/join.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { type LaidTake, openLaid } from '../laid-sound.ts';

/** Two takes that meet. */
export interface JoinToMatch {
  readonly left: LaidTake;
  readonly right: LaidTake;
  /** Gated loudness of their music, LUFS; null where there is none. */
  readonly leftLufs: number | null;
  readonly rightLufs: number | null;
  readonly atSec: number;
}

export interface MatchJoinsRequest {
  readonly joins: readonly JoinToMatch[];
}

/** Finds for each join how its takes go over into each other. */
export async function matchJoins({ joins }: MatchJoinsRequest, control: TaskControl): Promise<JoinMatch[]> {
  const found: JoinMatch[] = [];
  for (const [index, join] of joins.entries()) {
    throwIfCancelled(control.cancel);
    const left = openLaid(join.left);
    try {
      const right = openLaid(join.right);
      try {
        found.push(matchJoin({ left, right, leftDb: join.leftLufs, rightDb: join.rightLufs }, join.atSec));
      } finally {
        right.close();
      }
    } finally {
      left.close();
    }
    control.onProgress((index + 1) / joins.length);
    await control.breathe();
  }
  return found;
}
