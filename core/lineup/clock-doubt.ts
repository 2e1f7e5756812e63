import type { PlaceOdds } from './jump-odds.ts';

/** A jump that a take's clock may make although none was taken for sure there, or one that is sure but not its size. */
export interface JumpDoubt {
  /** Session time from which on, or up to which, the clock is in doubt, s. */
  readonly atSec: number;
  readonly side: 'after' | 'before';
  /** How likely it is, 0 to 1. */
  readonly likely: number;
  /** How far off that side then lies, root of the mean square, s. */
  readonly offSec: number;
  /** By how much the clock then jumps, root of the mean square, s. */
  readonly jumpSec: number;
  /** What names the place: a break of the wave, leakage that is not heard, notes that step; or a jump that was mended. */
  readonly by: 'wave' | 'bleed' | 'notes' | 'mended';
}

/** The doubt that jumps leave which were not taken for sure, where the clock is right on one side. */
export function doubtsOf(odds: readonly PlaceOdds[]): JumpDoubt[] {
  return odds.map(({ atSec, side, likely, offRmsSec, wave }) => {
    return { atSec, side, likely, offSec: offRmsSec, jumpSec: offRmsSec, by: wave === undefined ? 'bleed' : 'wave' };
  });
}

/**
 * A doubt about a jump where the clock is the mean of what was heard on both sides: each side lies off by the other's share
 * of it. shareBefore: how much of what tells the clock lies before it, 0 to 1.
 */
export function sharedDoubt(
  doubt: Pick<JumpDoubt, 'atSec' | 'likely' | 'jumpSec' | 'by'>,
  shareBefore: number,
): JumpDoubt[] {
  return [
    { ...doubt, side: 'after', offSec: shareBefore * doubt.jumpSec },
    { ...doubt, side: 'before', offSec: (1 - shareBefore) * doubt.jumpSec },
  ];
}

/** Mean square of how far a clock may lie off at a session time by jumps that were not found, s^2. */
export function doubtAt(doubts: readonly JumpDoubt[], sessionSec: number): number {
  return doubts.reduce((sum, { atSec, side, likely, offSec }) => {
    const isIn = side === 'after' ? sessionSec > atSec : sessionSec < atSec;
    return isIn ? sum + likely * offSec * offSec : sum;
  }, 0);
}
