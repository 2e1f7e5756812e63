import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { ReadyTake } from '../composed-voice.ts';
import { joinPointsBetween } from '../join-points.ts';
import { notReady } from './live-faults.ts';
import type { TakeProgress } from './take-state.ts';
import { readyOf } from './voice-work.ts';

/**
 * Where two takes can be joined near a session time, best first. Throws PartsongError where one of them is not there, or not
 * yet, and where nobody knows where it lies.
 */
export function joinPointsOf(
  takes: readonly TakeProgress[],
  { leftTakeId, rightTakeId, atSec }: CallInput<'joinPoints'>,
): CallOutput<'joinPoints'> {
  const [left, right] = [leftTakeId, rightTakeId].map((id): ReadyTake => {
    const progress = takes.find((take) => take.id === id);
    const ready = progress === undefined ? undefined : readyOf(progress);
    if (ready === undefined) throw notReady();
    return ready;
  }) as [ReadyTake, ReadyTake];
  const points = joinPointsBetween(left, right, atSec);
  return { points: points.map((point) => ({ atSec: point.atSec, kind: point.kind })) };
}
