import type { SpanView } from '../../app/shell/contract/desk-view.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { thePlayer, usePlayback } from '../playback/player.ts';
import { playbackFrame } from './the-player.ts';

/** Plays a stretch once. */
export function playStretch(stretch: SpanView): void {
  const player = thePlayer();
  const toFrame = Math.round(stretch.toSec * SESSION_RATE_HZ);
  player.setLoop(null);
  player.seek(Math.max(0, Math.round(stretch.fromSec * SESSION_RATE_HZ)));
  void player.play();
  stopAt(toFrame);
}

/** Plays a stretch again and again. */
export function loopStretch(stretch: SpanView): void {
  const player = thePlayer();
  const fromFrame = Math.max(0, Math.round(stretch.fromSec * SESSION_RATE_HZ));
  player.setLoop({ fromFrame, toFrame: Math.max(fromFrame + 1, Math.round(stretch.toSec * SESSION_RATE_HZ)) });
  player.seek(fromFrame);
  void player.play();
}

let watching = 0;

/** Pauses when the line reaches a frame, unless something else was begun meanwhile. */
function stopAt(toFrame: number): void {
  const mine = ++watching;
  let begun = false;
  const look = (): void => {
    if (mine !== watching) return;
    const { playing, loop } = usePlayback.getState();
    begun ||= playing;
    if (loop !== null || (begun && !playing)) return;
    const at = playbackFrame();
    // Far beyond the end: the user has gone elsewhere.
    if (at > toFrame + SESSION_RATE_HZ) return;
    if (at >= toFrame) thePlayer().pause();
    else requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
}
