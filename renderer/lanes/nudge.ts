import type { Take } from '../../core/session/schema.ts';
import { edit } from '../desk/desk-store.ts';
import { movedByHand } from './placement-time.ts';
import { playbackFrame } from './the-player.ts';
import { SESSION_RATE_HZ } from './time-view.ts';

/** Steps of moving a take by hand: as labels, and in session frames (48 kHz). */
export const nudgeSteps = [
  { label: '1 sample', frames: 1 },
  { label: '1 ms', frames: 48 },
  { label: '10 ms', frames: 480 },
] as const;

/** Every run of moves of one take is one step of undo. A run ends when it pauses. */
const RUN_ENDS_AFTER_MS = 3000;
let run = 0;
let last = { takeId: '', atMs: 0 };

/** Moves a take by session frames (positive: later). */
export function nudge(take: Take, frames: number): void {
  const nowMs = performance.now();
  if (take.id !== last.takeId || nowMs - last.atMs > RUN_ENDS_AFTER_MS) run++;
  last = { takeId: take.id, atMs: nowMs };
  const placement = movedByHand(take.placement, frames, playbackFrame() / SESSION_RATE_HZ);
  edit({ kind: 'setPlacement', takeId: take.id, placement }, `move ${take.id} ${run}`);
}
