import { backToFound, foundOf } from '../../../core/session/anchors.ts';
import type { Edit } from '../../../core/session/edit.ts';
import type { Take } from '../../../core/session/schema.ts';

/** Takes a doubtful placement as it is; undefined when nothing was asked. */
export function acceptEdit(take: Take): Edit | undefined {
  const { placement } = take;
  if (placement === null || placement.question === null) return undefined;
  const found = foundOf(placement);
  return {
    kind: 'setPlacement',
    takeId: take.id,
    placement: { ...placement, question: null, by: 'user', ...(found === undefined ? {} : { found }) },
  };
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
