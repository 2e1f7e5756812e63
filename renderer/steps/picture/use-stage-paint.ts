import { type RefObject, useCallback, useLayoutEffect, useRef, useState } from 'react';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { playbackFrame } from '../../lanes/the-player.ts';
import { isMomentAt, type PictureModel } from './picture-model.ts';
import { paintAt } from './stage-paint.ts';
import { type KeepVideo, useVideos } from './use-videos.ts';

/**
 * Keeps the canvas in step with the player: what moves on it is painted, its videos are kept in step. dragged: the voice whose tile
 * is being dragged, which is not painted. Out: the canvas's element, whether the tiles lie otherwise for this moment, how a video is kept.
 */
export function useStagePaint(
  model: PictureModel,
  scale: number,
  dragged: string | null,
): { readonly surface: RefObject<HTMLDivElement | null>; readonly isMoment: boolean; readonly keep: KeepVideo } {
  const surface = useRef<HTMLDivElement>(null);
  const paint = useRef({ model, scale, dragged });
  paint.current = { model, scale, dragged };
  const [isMoment, setMoment] = useState(false);
  const paintNow = useCallback((sec: number): void => {
    if (surface.current === null) return;
    const { model: newest, scale: now, dragged: besides } = paint.current;
    paintAt(surface.current, newest, sec, now, besides);
    setMoment(isMomentAt(newest.tiles, sec));
  }, []);
  const keep = useVideos(paintNow);
  // What was painted is painted again where React laid tiles anew.
  useLayoutEffect(() => paintNow(playbackFrame() / SESSION_RATE_HZ));
  return { surface, isMoment, keep };
}
