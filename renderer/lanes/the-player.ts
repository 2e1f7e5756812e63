import { thePlayer, usePlayback } from '../playback/player.ts';

/** Where the playback line stands, session frames. */
export function playbackFrame(): number {
  const { playing, positionFrame } = usePlayback.getState();
  return playing ? thePlayer().positionFrame() : positionFrame;
}

/** Moves the playback line to a session frame, 0 or later. */
export function seekTo(frame: number): void {
  thePlayer().seek(Math.max(0, Math.round(frame)));
}
