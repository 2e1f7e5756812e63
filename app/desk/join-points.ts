import { type JoinPoint, joinPoints } from '../../core/mix/join.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { openLaid } from '../work/laid-sound.ts';
import { laidTakeOf, musicLufs, type ReadyTake } from './composed-voice.ts';
import { isUnplaced } from './placement.ts';

/**
 * Where two takes can be joined near a session time, best first. Reads a few seconds of each: a tenth of a second of work.
 * Throws PartsongError 'bad-option' for one of which nobody knows where it lies.
 */
export function joinPointsBetween(left: ReadyTake, right: ReadyTake, atSec: number): JoinPoint[] {
  for (const { placement, take } of [left, right]) if (isUnplaced(placement)) throw unplaced(take.name);
  const leftSound = openLaid(laidTakeOf(left));
  try {
    const rightSound = openLaid(laidTakeOf(right));
    try {
      const pair = { left: leftSound, right: rightSound, leftDb: musicLufs(left), rightDb: musicLufs(right) };
      return joinPoints(pair, atSec);
    } finally {
      rightSound.close();
    }
  } finally {
    leftSound.close();
  }
}

function unplaced(name: string): PartsongError {
  return new PartsongError(
    'bad-option',
    `Nobody knows yet where ${name} lies in time, so it cannot be joined with another take.`,
    'Give it its place in the step "Line up" first.',
  );
}
