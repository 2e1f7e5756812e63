import { useEffect, useRef } from 'react';
import { thePlayer, usePlayback } from '../../playback/player.ts';

export interface SoftAudioProps {
  readonly src: string;
  /** What it is, for screen readers. */
  readonly name: string;
  /** Plays at once; only where a press has just asked for it. */
  readonly begins?: boolean;
}

/**
 * A sound that is no part of the session's time line. It begins at the level that is set for the headphones, low as all
 * sound of the page, and follows that; what else plays is stopped.
 */
export function SoftAudio({ src, name, begins = false }: SoftAudioProps) {
  const player = useRef<HTMLAudioElement>(null);
  const volumeDb = usePlayback((state) => state.volumeDb);
  useEffect(() => {
    if (player.current !== null) player.current.volume = 10 ** (volumeDb / 20);
  }, [volumeDb]);
  useEffect(() => {
    // A browser may hold it back where the press is long ago; its own button is there then.
    if (begins) player.current?.play().catch(() => undefined);
  }, [begins]);
  return (
    <div className="soft-audio">
      {/* biome-ignore lint/a11y/useMediaCaption: it is music */}
      <audio ref={player} controls preload="metadata" src={src} aria-label={name} onPlay={() => thePlayer().pause()} />
    </div>
  );
}
