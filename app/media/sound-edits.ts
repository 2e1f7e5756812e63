/** A stretch of recorded sound that an edit list shows. Frames at the stream's own rate. */
export interface SoundEdit {
  /** Of clip time. */
  readonly atFrame: number;
  /** Of what was recorded. */
  readonly mediaFrame: number;
  readonly frames: number;
}

/** Some frames that lie together in what was recorded and, where they are shown, in the clip. */
export interface Run {
  readonly isShown: boolean;
  /** Stamp of the first one; absent where it has none. */
  readonly frame: number | undefined;
  readonly frames: number;
  /** How many of them are still to come. */
  left: number;
}

/** Where an edit lies, s. */
export interface EditTimes {
  readonly atSec: number;
  readonly mediaSec: number;
  readonly lengthSec: number;
}

/**
 * Edits in frames, for sound that is cut into several pieces: FFmpeg puts those to a packet only (21 ms of AAC), so that decoding
 * lays them itself. undefined where there is but one, or where what was recorded is not shown in its order.
 */
export function soundEdits(times: readonly EditTimes[], rateHz: number): readonly SoundEdit[] | undefined {
  if (times.length < 2 || !isInOrder(times)) return undefined;
  const frame = (sec: number): number => Math.round(sec * rateHz);
  return times.map(({ atSec, mediaSec, lengthSec }) => ({
    atFrame: frame(atSec),
    mediaFrame: frame(mediaSec),
    frames: frame(atSec + lengthSec) - frame(atSec),
  }));
}

export function isInOrder(times: readonly EditTimes[]): boolean {
  // A list counts in units of the movie, of 1 ms and more.
  return times.every((one, n) => n === 0 || one.mediaSec > times[n - 1]!.mediaSec + times[n - 1]!.lengthSec - 0.002);
}

/** Parts runs of recorded frames into what edits show of them and what they leave out. Without edits all is shown. */
export class RunSplitter {
  readonly #edits: readonly SoundEdit[] | undefined;
  #next = 0;

  constructor(edits: readonly SoundEdit[] | undefined) {
    this.#edits = edits;
  }

  /** stamp: of the first frame; absent where it follows those before. frames: 1 at least. */
  split(stamp: number | undefined, frames: number): Run[] {
    if (this.#edits === undefined) return [{ isShown: true, frame: stamp, frames, left: frames }];
    let at = stamp ?? this.#next;
    const end = at + frames;
    this.#next = end;
    const runs: Run[] = [];
    const add = (to: number, frame: number | undefined): void => {
      if (to > at) runs.push({ isShown: frame !== undefined, frame, frames: to - at, left: to - at });
      at = Math.max(at, to);
    };
    for (const { atFrame, mediaFrame, frames: shown } of this.#edits) {
      add(Math.min(end, mediaFrame), undefined);
      add(Math.min(end, mediaFrame + shown), atFrame + at - mediaFrame);
    }
    add(end, undefined);
    return runs;
  }
}
