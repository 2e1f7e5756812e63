import { type Clock, clockPieces } from '../signal/clock.ts';
import type { PictureRate } from './picture-rate.ts';

/** One stretch of a clip or a sound on a track of an edit list. Times in s. */
export interface ListedClip {
  readonly name: string;
  /** Where its file lies, from the list's own folder, with `/`; percent signs and so on as they are. */
  readonly path: string;
  /** Of its own time line: where the stretch begins and how long the file is. */
  readonly fromSec: number;
  readonly fileSec: number;
  /** Pictures per second of the clip, or samples per second of a sound. */
  readonly rate: PictureRate;
  /** On the list's time line. */
  readonly atSec: number;
  readonly lengthSec: number;
  /** How much faster its clock runs than the list's, ppm. */
  readonly driftPpm: number;
}

export interface ListedTrack {
  readonly name: string;
  readonly kind: 'Video' | 'Audio';
  /** In order, not overlapping. */
  readonly clips: readonly ListedClip[];
}

/** Clips as they lie on the session's time line, for another program. */
export interface EditList {
  readonly name: string;
  /** Of the time line's pictures. */
  readonly rate: PictureRate;
  readonly tracks: readonly ListedTrack[];
}

/** A stretch of a clip that runs evenly. Times in s. */
export interface EvenStretch {
  /** Of the clip's own time. */
  readonly fromSec: number;
  /** Of the session. */
  readonly atSec: number;
  readonly lengthSec: number;
  readonly driftPpm: number;
}

/** A jump up to this long is cut in its middle, s: some pictures are shown twice. A longer one leaves a gap. */
const CLOSED_GAP_SEC = 0.06;

/** The stretches of session time in which a clip runs evenly, between two moments of it: one for a clock without bends. */
export function evenStretches(clock: Clock, fromSec: number, toSec: number): EvenStretch[] {
  const pieces = clockPieces(clock);
  return pieces.flatMap((piece) => {
    const { takeSec0, sessionSec0, rate, fromTakeSec, toTakeSec } = piece;
    const begins = sessionSec0 + (fromTakeSec - takeSec0) / rate;
    const ends = sessionSec0 + (toTakeSec - takeSec0) / rate;
    const first = Math.max(fromSec, begins - piece.fromSec > CLOSED_GAP_SEC / 2 ? begins : piece.fromSec);
    const last = Math.min(toSec, piece.toSec - ends > CLOSED_GAP_SEC / 2 ? ends : piece.toSec);
    if (last <= first) return [];
    return [
      {
        fromSec: takeSec0 + (first - sessionSec0) * rate,
        atSec: first,
        lengthSec: last - first,
        driftPpm: (rate - 1) * 1e6,
      },
    ];
  });
}
