import { useCallback, useEffect, useRef } from 'react';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { playbackFrame } from '../../lanes/the-player.ts';
import { usePlayback } from '../../playback/player.ts';
import type { TileClip } from './picture-model.ts';
import { orderFor, videoSecAt } from './video-sync.ts';

/** A clip begins to run so long before it is seen, s. */
const SOON_SEC = 1;

/** A video that is kept in step. */
interface Kept {
  readonly video: HTMLVideoElement;
  readonly clip: TileClip;
  readonly isProxy: boolean;
  /** Moves while it plays; else it stands still until the player does. */
  readonly moves: boolean;
}

/** Gives a video to be kept in step; returns how to let it go. */
export type KeepVideo = (kept: Kept) => () => void;

/** Keeps the videos of the bench in step with the player. onStep: the session time with every step, s. */
export function useVideos(onStep: (sessionSec: number) => void): KeepVideo {
  const kept = useRef(new Set<Kept>());
  const before = useRef(-1);
  const told = useRef(onStep);
  told.current = onStep;
  const step = useCallback((): void => {
    const sessionSec = playbackFrame() / SESSION_RATE_HZ;
    const { playing, starved } = usePlayback.getState();
    // After Play a moment passes until the sound moves; clips that ran ahead would have to be held back.
    const moves = playing && !starved && sessionSec !== before.current;
    before.current = sessionSec;
    for (const one of kept.current) keepInStep(one, sessionSec, moves);
    told.current(sessionSec);
  }, []);
  useEffect(() => {
    let frame = 0;
    const run = (): void => {
      step();
      frame = usePlayback.getState().playing ? requestAnimationFrame(run) : 0;
    };
    const stop = usePlayback.subscribe((state, before) => {
      if (state.playing && frame === 0) run();
      else if (!state.playing && (before.playing || state.positionFrame !== before.positionFrame)) step();
    });
    run();
    return () => {
      stop();
      cancelAnimationFrame(frame);
    };
  }, [step]);
  return useCallback(
    (one) => {
      kept.current.add(one);
      const settle = (): void => {
        if (!usePlayback.getState().playing || !one.moves) step();
      };
      one.video.addEventListener('loadeddata', settle);
      // A place that was asked for meanwhile is gone to now.
      one.video.addEventListener('seeked', settle);
      step();
      return () => {
        kept.current.delete(one);
        one.video.removeEventListener('loadeddata', settle);
        one.video.removeEventListener('seeked', settle);
      };
    },
    [step],
  );
}

function keepInStep({ video, clip, isProxy, moves }: Kept, sessionSec: number, playing: boolean): void {
  video.style.visibility = isAt(clip, sessionSec) ? 'visible' : 'hidden';
  if (video.readyState < HTMLMediaElement.HAVE_METADATA) return;
  if (playing && !moves) {
    video.pause();
    return;
  }
  const wanted = videoSecAt(clip, sessionSec, isProxy);
  const order = orderFor(wanted, playing && isAt(clip, sessionSec, SOON_SEC), video, !isProxy);
  if (order.seekTo !== null) video.currentTime = order.seekTo;
  if (video.playbackRate !== order.rate) video.playbackRate = order.rate;
  if (order.plays && video.paused) video.play().catch(() => undefined);
  if (!order.plays && !video.paused) video.pause();
}

/** Outer pieces are open, so that something is seen before and after the video's span as well. */
function isAt({ fromSec, toSec, isFirst, isLast }: TileClip, sessionSec: number, earlySec = 0): boolean {
  return (isFirst || sessionSec >= fromSec - earlySec) && (isLast || sessionSec < toSec);
}
