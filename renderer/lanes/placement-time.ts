import type { Placement } from '../../core/session/schema.ts';

/** Where a take lies; a take that is not placed yet is drawn from session time 0. */
export interface Place {
  readonly offsetSec: number;
  readonly driftPpm: number;
}

const UNPLACED: Place = { offsetSec: 0, driftPpm: 0 };

/** How exactly an ear and eye place a take by hand, one standard deviation, s: about the width of an onset drawn large. */
const BY_HAND_UNCERTAINTY_SEC = 0.001;

export function placeOf(placement: Placement | null): Place {
  return placement ?? UNPLACED;
}

/** Session time, s, of a take's own time, s. */
export function sessionSecOf(place: Place, takeSec: number): number {
  return place.offsetSec + takeSec / (1 + place.driftPpm * 1e-6);
}

/** A take's own time, s, at a session time, s. */
export function takeSecOf(place: Place, sessionSec: number): number {
  return (sessionSec - place.offsetSec) * (1 + place.driftPpm * 1e-6);
}

/**
 * The placement after the take was moved by hand by `bySec` (positive: later). What was found stays as evidence; the
 * hand becomes a witness of its own, at session time `atSec` (where the user looked), and the only one of its kind.
 */
export function movedByHand(placement: Placement | null, bySec: number, atSec: number): Placement {
  const before = placeOf(placement);
  const place = { offsetSec: before.offsetSec + bySec, driftPpm: before.driftPpm };
  const found = (placement?.evidence ?? []).filter((one) => one.kind !== 'user');
  return {
    ...place,
    uncertaintySec: BY_HAND_UNCERTAINTY_SEC,
    driftUncertaintyPpm: placement?.driftUncertaintyPpm ?? 50,
    confidence: 1,
    question: null,
    by: 'user',
    evidence: [
      ...found.map((one) => ({ ...one, weight: 0 })),
      {
        kind: 'user',
        atSec,
        takeSec: takeSecOf(place, atSec),
        offsetSec: place.offsetSec,
        uncertaintySec: BY_HAND_UNCERTAINTY_SEC,
        weight: 1,
        accepted: true,
        note: 'Placed by hand.',
      },
    ],
  };
}
