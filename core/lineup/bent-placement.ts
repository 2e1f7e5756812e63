import type { FollowedBleed } from './follow-bleed.ts';
import type { Placement } from './witness.ts';

/** The way from the headphones to the microphone is not known better than this, s (10 cm of air). */
const HEADPHONE_WAY_SEC = 0.0003;

/** A placement with the clock as the guide's leakage shows it, where that was believed and shows bends. */
export function bentBy(placement: Placement, followed: FollowedBleed | undefined): Placement {
  if (placement.kind !== 'placed' || followed === undefined) return placement;
  const bleed = placement.evidence.find((one) => one.kind === 'bleed');
  if (bleed?.accepted !== true) return placement;
  const { clock, fit, trail } = followed;
  if (clock.bends === undefined) return { ...placement, trail };
  const middleSec = trail[trail.length >> 1]!.atSec;
  return {
    ...placement,
    offsetSec: clock.offsetSec,
    driftPpm: clock.driftPpm,
    bends: clock.bends,
    uncertaintySec: Math.hypot(HEADPHONE_WAY_SEC, fit.errorAt(middleSec)),
    driftUncertaintyPpm: fit.driftErrorPpm,
    trail,
  };
}
