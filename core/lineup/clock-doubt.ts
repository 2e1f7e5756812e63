import type { PlaceOdds } from './jump-odds.ts';

/** A jump that a take's clock may make although none was taken for sure there. */
export interface JumpDoubt {
  /** Session time from which on, or up to which, the clock is in doubt, s. */
  readonly atSec: number;
  readonly side: 'after' | 'before';
  /** How likely it is, 0 to 1. */
  readonly likely: number;
  /** How far off that side then lies, root of the mean square, s. */
  readonly offSec: number;
}

/** The doubt that jumps leave which were not taken for sure, where the clock is right on one side. */
export function doubtsOf(odds: readonly PlaceOdds[]): JumpDoubt[] {
  return odds.map(({ atSec, side, likely, offRmsSec }) => ({ atSec, side, likely, offSec: offRmsSec }));
}

/**
 * The same where the clock is the mean of what was heard on both sides: then each side lies off by the other's share of the jump.
 * shareBefore: how much of what tells the clock lies before a session time, 0 to 1.
 */
export function sharedDoubtsOf(odds: readonly PlaceOdds[], shareBefore: (atSec: number) => number): JumpDoubt[] {
  return odds.flatMap(({ atSec, likely, offRmsSec }) => {
    const before = shareBefore(atSec);
    return [
      { atSec, side: 'after' as const, likely, offSec: before * offRmsSec },
      { atSec, side: 'before' as const, likely, offSec: (1 - before) * offRmsSec },
    ];
  });
}

/** Mean square of how far a clock may lie off at a session time by jumps that were not found, s^2. */
export function doubtAt(doubts: readonly JumpDoubt[], sessionSec: number): number {
  return doubts.reduce((sum, { atSec, side, likely, offSec }) => {
    const isIn = side === 'after' ? sessionSec > atSec : sessionSec < atSec;
    return isIn ? sum + likely * offSec * offSec : sum;
  }, 0);
}
