import { laidByHand } from '../../core/session/by-hand.ts';
import type { Placement } from '../../core/session/schema.ts';
import type { Clock } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';

/** Where a take lies; a take that is not placed yet is drawn from session time 0. */
export type Place = Clock;

const UNPLACED = { offsetSec: 0, driftPpm: 0 };

export { laidByHand };

export function placeOf(placement: Placement | null): Place {
  return placement ?? UNPLACED;
}

/**
 * The placement after the take was moved by hand by `byFrames` session frames (positive: later), beginning from the nearest
 * whole frame so that none is lost in rounding; else as `laidByHand`.
 */
export function movedByHand(placement: Placement | null, byFrames: number, atSec: number): Placement {
  return laidByHand(placement, Math.round(placeOf(placement).offsetSec * SESSION_RATE_HZ) + byFrames, atSec);
}
