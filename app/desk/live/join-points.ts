import { joinPoints } from '../../../core/mix/join.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import { openLaid } from '../../work/laid-sound.ts';
import { laidTakeOf, musicLufs, type ReadyTake } from '../composed-voice.ts';
import { isUnplaced } from '../placement.ts';
import { notReady } from './live-faults.ts';
import type { TakeProgress } from './take-state.ts';
import { readyOf } from './voice-work.ts';

function unplaced(name: string): PartsongError {
  return new PartsongError(
    'bad-option',
    `Nobody knows yet where ${name} lies in time, so it cannot be joined with another take.`,
    'Give it its place in the step "Line up" first.',
  );
}

/**
 * Where two takes can be joined near a session time, best first. Reads a few seconds of each: a tenth of a second of work.
 * Throws PartsongError where one of them is not there, or not yet.
 */
export function joinPointsOf(
  takes: readonly TakeProgress[],
  { leftTakeId, rightTakeId, atSec }: CallInput<'joinPoints'>,
): CallOutput<'joinPoints'> {
  const [left, right] = [leftTakeId, rightTakeId].map((id): ReadyTake => {
    const progress = takes.find((take) => take.id === id);
    const ready = progress === undefined ? undefined : readyOf(progress);
    if (ready === undefined) throw notReady();
    if (isUnplaced(ready.placement)) throw unplaced(ready.take.name);
    return ready;
  }) as [ReadyTake, ReadyTake];
  const leftSound = openLaid(laidTakeOf(left));
  try {
    const rightSound = openLaid(laidTakeOf(right));
    try {
      const pair = { left: leftSound, right: rightSound, leftDb: musicLufs(left), rightDb: musicLufs(right) };
      return { points: joinPoints(pair, atSec).map((point) => ({ atSec: point.atSec, kind: point.kind })) };
    } finally {
      rightSound.close();
    }
  } finally {
    leftSound.close();
  }
}
