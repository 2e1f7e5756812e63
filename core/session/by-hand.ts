import { takeSecOf } from '../signal/clock.ts';
import { SESSION_RATE_HZ } from '../signal/time.ts';
import { anchorsMoved, foundOf } from './anchors.ts';
import { residualWarning } from './offset-curve.ts';
import { isBareMark, isUnplaced } from './place-words.ts';
import type { Placement } from './schema.ts';

const UNPLACED = { offsetSec: 0, driftPpm: 0 };
/** What a hand's placing is good for where nothing was known before, s: about what the ear forgives. */
const BY_HAND_UNCERTAINTY_SEC = 0.02;

/**
 * The placement after the take was laid by hand so that it begins at session frame `offsetFrames`. What was found stays as it was, weights too, so that one can go back to it;
 * the hand becomes a witness without weight at session time `atSec` (where the user looked), the only one but for anchors, which move with the take.
 */
export function laidByHand(placement: Placement | null, offsetFrames: number, atSec: number): Placement {
  const offsetSec = offsetFrames / SESSION_RATE_HZ;
  // What was found of how far it may lie off says nothing of another place.
  const { residualSec: _residual, warning: _warning, ...before } = placement ?? {};
  const place = { ...UNPLACED, ...before, offsetSec };
  const known = placement !== null && !isUnplaced(placement) && !isBareMark(placement);
  const found = foundOf(placement);
  const bySec = placement === null ? 0 : offsetSec - placement.offsetSec;
  const uncertaintySec = known ? placement.uncertaintySec : BY_HAND_UNCERTAINTY_SEC;
  return {
    ...place,
    uncertaintySec,
    driftUncertaintyPpm: placement?.driftUncertaintyPpm ?? 100,
    confidence: placement?.confidence ?? 1,
    question: null,
    by: 'user',
    ...(found === undefined ? {} : { found }),
    evidence: [
      ...anchorsMoved(placement?.evidence ?? [], bySec).filter(
        (one) => one.kind !== 'user' || one.anchor !== undefined,
      ),
      {
        kind: 'user',
        atSec,
        takeSec: takeSecOf(place, atSec),
        offsetSec,
        uncertaintySec,
        weight: 0,
        accepted: true,
        note: 'Moved by hand.',
      },
    ],
  };
}

/**
 * The placement with its question, or its warning that it may not be exact all along, accepted: it lies where it lay, and is the
 * user's from now on. undefined where there is nothing to accept.
 */
export function acceptedByHand(placement: Placement | null): Placement | undefined {
  if (placement === null) return undefined;
  const isInexact = placement.by === 'found' && residualWarning(placement) !== null;
  if (placement.question === null && !isInexact) return undefined;
  const found = foundOf(placement);
  const { warning: _, ...rest } = placement;
  return { ...rest, question: null, by: 'user', ...(found === undefined ? {} : { found }) };
}
