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
