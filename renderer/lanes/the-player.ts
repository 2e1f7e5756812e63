import * as playback from '../playback/player.ts';

/** The page's player; undefined while there is none. */
export function playerIfThere(): playback.Player | undefined {
  const found = (playback as { readonly thePlayer?: () => playback.Player }).thePlayer;
  try {
    return found?.();
  } catch {
    return undefined;
  }
}

/** Where the playback line stands, session frames. */
export function playbackFrame(): number {
  return playerIfThere()?.positionFrame() ?? playback.usePlayback.getState().positionFrame;
}

/** Moves the playback line. */
export function seekTo(frame: number): void {
  const player = playerIfThere();
  const to = Math.max(0, Math.round(frame));
  if (player === undefined) playback.usePlayback.setState({ positionFrame: to });
  else player.seek(to);
}
