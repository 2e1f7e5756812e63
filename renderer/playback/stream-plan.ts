import type { ChunkPiece } from './messages.ts';

/** Frames of the session, from its beginning; `toFrame` is not part of it. */
export interface Stretch {
  readonly fromFrame: number;
  readonly toFrame: number;
}

/** Where a stream begins, what it repeats, where it ends. Whole frames. */
export interface StreamPlan {
  readonly startFrame: number;
  /** Repeated for ever once it is reached; null, or one that ends before the start, lets the stream run to the end. */
  readonly loop: Stretch | null;
  /** The session's end. */
  readonly endFrame: number;
}

/** Some frames of a stream that lie in one run on the session's time line. */
export interface PlannedPiece extends ChunkPiece {
  readonly frames: number;
}

/** Shortest stretch that is repeated, frames: 50 ms. */
export const LEAST_LOOP_FRAMES = 2400;
/** Across these frames before the end of a loop its sound changes to that before its start: 3 ms, enough not to click. */
export const SEAM_FRAMES = 144;

/** The loop that the stream really goes through, or null. */
export function loopOf(plan: StreamPlan): Stretch | null {
  const { loop, startFrame } = plan;
  if (loop === null || loop.toFrame - loop.fromFrame < LEAST_LOOP_FRAMES) return null;
  return startFrame < loop.toFrame ? loop : null;
}

/** The session frame that sounds at a stream frame (may be fractional). Before stream frame 0 it runs on evenly backwards. */
export function sessionFrameAt(plan: StreamPlan, streamFrame: number): number {
  const loop = loopOf(plan);
  const frame = plan.startFrame + streamFrame;
  if (loop === null || frame < loop.toFrame) return frame;
  return loop.fromFrame + ((frame - loop.toFrame) % (loop.toFrame - loop.fromFrame));
}

/** How many frames the stream has from its start; Infinity when it repeats. */
export function streamLength(plan: StreamPlan): number {
  return loopOf(plan) === null ? Math.max(0, plan.endFrame - plan.startFrame) : Number.POSITIVE_INFINITY;
}

/** The runs that make up the stream frames [fromFrame, fromFrame + frames). */
export function piecesOf(plan: StreamPlan, fromFrame: number, frames: number): PlannedPiece[] {
  const loop = loopOf(plan);
  const pieces: PlannedPiece[] = [];
  for (let at = 0; at < frames; ) {
    const sessionFrame = sessionFrameAt(plan, fromFrame + at);
    const run = loop === null ? frames - at : Math.min(frames - at, loop.toFrame - sessionFrame);
    pieces.push({ at, sessionFrame, frames: run });
    at += run;
  }
  return pieces;
}
