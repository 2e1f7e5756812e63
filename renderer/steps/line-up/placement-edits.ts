import type { Anchor, Laid } from '../../../core/session/anchored-clock.ts';
import {
  anchorsOf,
  backToFound,
  foundOf,
  withAnchor,
  withAnchorsAlone,
  withJump,
  withoutAnchor,
} from '../../../core/session/anchors.ts';
import { acceptedByHand } from '../../../core/session/by-hand.ts';
import type { Edit } from '../../../core/session/edit.ts';
import type { Placement, Take } from '../../../core/session/schema.ts';
import { takeSecAt } from '../drawing/take-time.ts';

/** Takes a placement as it is that asks a question, or was found not to be exact all along; undefined where there is nothing to accept. */
export function acceptEdit(take: Take): Edit | undefined {
  const placement = acceptedByHand(take.placement);
  return placement === undefined ? undefined : { kind: 'setPlacement', takeId: take.id, placement };
}

/**
 * Back to where the evidence put a take, with all that the hand did put away; with no evidence, back to not placed, so that
 * it is lined up anew. undefined where it lies as it was found.
 */
export function backEdit(take: Take): Edit | undefined {
  const { placement } = take;
  if (placement === null || placement.by === 'found') return undefined;
  return { kind: 'setPlacement', takeId: take.id, placement: backToFound(placement) };
}

/** The edit that follows from pinning, or the sentence why it cannot be. */
export type PinOutcome = { readonly edit: Edit } | { readonly reason: string };

function outcomeOf(take: Take, laid: Laid<Placement | null>): PinOutcome {
  return laid.kind === 'refused'
    ? { reason: laid.reason }
    : { edit: { kind: 'setPlacement', takeId: take.id, placement: laid.value } };
}

/** A pin nearer to one that stands than that is meant to move it, s. */
const MOVES_WITHIN_SEC = 1;

/** The pin that would be moved by a pin at a take time, s; undefined where there is none. */
export function pinToMove(placement: Placement | null, takeSec: number): Anchor | undefined {
  const near = anchorsOf(placement).filter((one) => Math.abs(one.takeSec - takeSec) < MOVES_WITHIN_SEC);
  return near.sort((a, b) => Math.abs(a.takeSec - takeSec) - Math.abs(b.takeSec - takeSec))[0];
}

/** Pins the moment of a take that lies at session time `atSec` once it is held `shiftSec` later than its place. */
export function pinOutcome(take: Take, atSec: number, shiftSec: number): PinOutcome {
  const takeSec = takeSecAt(atSec - shiftSec, take.placement);
  const moved = pinToMove(take.placement, takeSec);
  return outcomeOf(take, withAnchor(take.placement, { takeSec, atSec, jumpTakeSec: null }, moved?.takeSec));
}

export function unpinOutcome(take: Take, takeSec: number): PinOutcome {
  return take.placement === null ? { reason: '' } : outcomeOf(take, withoutAnchor(take.placement, takeSec));
}

/**
 * Says that sound is missing before the pin at `takeSec`, or not: at the wanted take time where that lies between it and
 * the pin before, else where a jump was found between them, else half way.
 */
export function jumpOutcome(take: Take, takeSec: number, isMissing: boolean, wantedTakeSec: number | null): PinOutcome {
  const { placement } = take;
  const anchors = anchorsOf(placement);
  const at = anchors.findIndex((one) => one.takeSec === takeSec);
  const before = anchors[at - 1];
  if (placement === null || before === undefined) return { reason: 'There is no pin before this one.' };
  if (!isMissing) return outcomeOf(take, withJump(placement, takeSec, null));
  const isBetween = (sec: number): boolean => sec > before.takeSec && sec < takeSec;
  const heard = foundOf(placement)?.bends?.find((bend) => bend.jumpSec !== 0 && isBetween(bend.takeSec))?.takeSec;
  const wanted = wantedTakeSec !== null && isBetween(wantedTakeSec) ? wantedTakeSec : heard;
  return outcomeOf(take, withJump(placement, takeSec, wanted ?? (before.takeSec + takeSec) / 2));
}

export function aloneOutcome(take: Take, alone: boolean): PinOutcome {
  return take.placement === null ? { reason: '' } : outcomeOf(take, withAnchorsAlone(take.placement, alone));
}
