import type { Edit } from '../../../core/session/edit.ts';
import type { Take } from '../../../core/session/schema.ts';
import { foundOffsetSec } from './placement-words.ts';

/** Takes a doubtful placement as it is; undefined when nothing was asked. */
export function acceptEdit(take: Take): Edit | undefined {
  if (take.placement === null || take.placement.question === null) return undefined;
  return { kind: 'setPlacement', takeId: take.id, placement: { ...take.placement, question: null, by: 'user' } };
}

/**
 * Back to where the evidence put a take, the hand's own witness put away; with no evidence, back to not placed, so that it is lined up anew. undefined
 * where it lies as it was found.
 */
export function backEdit(take: Take): Edit | undefined {
  const { placement } = take;
  if (placement === null || placement.by === 'found') return undefined;
  const offsetSec = foundOffsetSec(placement);
  if (offsetSec === undefined) return { kind: 'setPlacement', takeId: take.id, placement: null };
  const evidence = placement.evidence.filter((one) => one.kind !== 'user');
  return { kind: 'setPlacement', takeId: take.id, placement: { ...placement, offsetSec, by: 'found', evidence } };
}
