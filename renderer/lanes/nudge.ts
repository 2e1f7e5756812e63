import type { Take } from '../../core/session/schema.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { edit } from '../desk/desk-store.ts';
import { laidByHand, movedByHand } from './placement-time.ts';
import { playbackFrame } from './the-player.ts';

/** Steps of moving a take by hand: as labels, and in session frames (48 kHz). */
export const nudgeSteps = [
  { label: '1 sample', frames: 1 },
  { label: '1 ms', frames: 48 },
  { label: '10 ms', frames: 480 },
] as const;

/** The keys that move a take in a lane, in words. */
export const nudgeKeyWords = 'comma and full stop 1 ms, with Shift 10 ms, with Alt 1 sample; or drag the take with Alt';

/** Every run of moves of one take is one step of undo. A run ends when it pauses. */
const RUN_ENDS_AFTER_MS = 3000;
let run = 0;
let last = { takeId: '', atMs: 0 };

/** Moves a take by session frames (positive: later). */
export function nudge(take: Take, frames: number): void {
  const placement = movedByHand(take.placement, frames, playbackFrame() / SESSION_RATE_HZ);
  edit({ kind: 'setPlacement', takeId: take.id, placement }, runOf(take));
}

/** Lays a take so that its first sample sounds at a session time, s; on a whole frame. */
export function layByHand(take: Take, offsetSec: number): void {
  const frames = Math.round(offsetSec * SESSION_RATE_HZ);
  const placement = laidByHand(take.placement, frames, playbackFrame() / SESSION_RATE_HZ);
  edit({ kind: 'setPlacement', takeId: take.id, placement }, runOf(take));
}

function runOf(take: Take): string {
  const nowMs = performance.now();
  if (take.id !== last.takeId || nowMs - last.atMs > RUN_ENDS_AFTER_MS) run++;
  last = { takeId: take.id, atMs: nowMs };
  return `move ${take.id} ${run}`;
}
