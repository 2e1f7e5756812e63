import { offlineMix } from './offline-session.ts';
import { usePlayback } from './playback-state.ts';
import { thePlayer } from './the-player.ts';

/** What a check from outside may ask of a finished page, as `partsongChecks` of the window. */
export interface PartsongChecks {
  /** The open session's mix as the player sounds it; see offline-session.ts. */
  readonly offlineMix: typeof offlineMix;
  /** Session frame at the ear; see Player. */
  positionFrame(): number;
  /** Puts the playback line to a frame of the session. */
  seek(frame: number): void;
  /** The take that is heard alone in place of the whole; null while the whole is. */
  heardAlone(): string | null;
}

/** Lays it out. It can do nothing that the page's own player cannot. */
export function openToChecks(): void {
  const partsongChecks: PartsongChecks = {
    offlineMix,
    positionFrame: () => thePlayer().positionFrame(),
    seek: (frame) => thePlayer().seek(frame),
    heardAlone: () => {
      const { audition } = usePlayback.getState();
      return audition?.onlyIt === true ? audition.takeId : null;
    },
  };
  Object.assign(globalThis, { partsongChecks });
}
