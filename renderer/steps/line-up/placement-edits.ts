import type { Edit } from '../../../core/session/edit.ts';
import type { Placement, Take } from '../../../core/session/schema.ts';
import { foundOffsetSec, isUnknown } from './placement-words.ts';

/** One frame of the session, s. */
export const FRAME_SEC = 1 / 48000;

/** What a hand's placing is good for when nothing was known before, s: about what the ear forgives. */
const BY_HAND_SEC = 0.02;

/** Steps of nudging, s, with their words. */
export const nudges = [
  { sec: -0.01, words: '10 ms', sense: 'earlier' },
  { sec: -0.001, words: '1 ms', sense: 'earlier' },
  { sec: -FRAME_SEC, words: '1 frame', sense: 'earlier' },
  { sec: FRAME_SEC, words: '1 frame', sense: 'later' },
  { sec: 0.001, words: '1 ms', sense: 'later' },
  { sec: 0.01, words: '10 ms', sense: 'later' },
] as const;

/** A take laid by hand so that its first sample sounds at a session time, s; a whole number of frames. */
export function layEdit(take: Take, offsetSec: number): Edit {
  const placement: Placement = take.placement ?? {
    offsetSec: 0,
    driftPpm: 0,
    uncertaintySec: BY_HAND_SEC,
    driftUncertaintyPpm: 100,
    confidence: 1,
    question: null,
    by: 'user',
    evidence: [],
  };
  const frames = Math.round(offsetSec / FRAME_SEC);
  return {
    kind: 'setPlacement',
    takeId: take.id,
    placement: {
      ...placement,
      offsetSec: frames / 48000,
      uncertaintySec: isUnknown(placement) ? BY_HAND_SEC : placement.uncertaintySec,
      question: null,
      by: 'user',
    },
  };
}

/** A take moved by some time, s (later is positive), by hand. */
export function nudgeEdit(take: Take, bySec: number): Edit {
  const now = take.placement?.offsetSec ?? 0;
  // Beginning from the nearest frame, a nudge by one frame is never lost in rounding.
  return layEdit(take, Math.round(now / FRAME_SEC) * FRAME_SEC + bySec);
}

/** Takes a doubtful placement as it is; undefined when nothing was asked. */
export function acceptEdit(take: Take): Edit | undefined {
  if (take.placement === null || take.placement.question === null) return undefined;
  return { kind: 'setPlacement', takeId: take.id, placement: { ...take.placement, question: null, by: 'user' } };
}

/**
 * Back to where the evidence put a take; with no evidence, back to not placed, so that it is lined up anew. undefined
 * where it lies as it was found.
 */
export function backEdit(take: Take): Edit | undefined {
  const { placement } = take;
  if (placement === null || placement.by === 'found') return undefined;
  const offsetSec = foundOffsetSec(placement);
  if (offsetSec === undefined) return { kind: 'setPlacement', takeId: take.id, placement: null };
  return { kind: 'setPlacement', takeId: take.id, placement: { ...placement, offsetSec, by: 'found' } };
}
