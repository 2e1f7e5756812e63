/** Rate of what is looked at, about, and from where to where its spectrum is, Hz. */
export const RATE_HZ = 8000;
const LOWEST_HZ = 80;
const HIGHEST_HZ = 3500;
export const HOP_SEC = 0.006;
/** Frames of one stretch. */
export const MOST_FRAMES = 64;
/**
 * Levels are taken over a share of a usual note's loudest partial: over little of it the softest beginning counts, and the end of the note
 * before it too.
 */
export const FLOOR_SHARES = [0.003, 0.01, 0.04] as const;
/** A rise that is gone after so many frames is the end of a note, or a knock. */
export const HELD_FRAMES = 7;

/** What rises along a short stretch, through windows of one length. */
export interface RiseRow {
  /** Frames between the two that are compared. */
  readonly gap: number;
  /** Hears a stretch; its first frame is centred on sample number `side`. usual: magnitude of a usual note's loudest partial. */
  hear(heard: Float64Array, side: number, frames: number, usual: number): void;
  /** The greatest magnitude of the first frame, beside the usual. */
  loudest(): number;
  /** What rises in each frame heard, over one of FLOOR_SHARES: MOST_FRAMES, of use until the next stretch is heard. */
  rises(floor: number): Float64Array;
}

/** What follows from a window's length and the rate. */
export interface RiseShape {
  /** The bins that count. */
  readonly firstBin: number;
  readonly bins: number;
  /** Samples from frame to frame. */
  readonly hop: number;
  /** Frames between the two that are compared: half a window. */
  readonly gap: number;
}

export function riseShape(size: number, rateHz: number): RiseShape {
  const binHz = rateHz / size;
  const firstBin = Math.max(1, Math.round(LOWEST_HZ / binHz));
  const hop = HOP_SEC * rateHz;
  return {
    firstBin,
    bins: Math.min(size / 2, Math.round(HIGHEST_HZ / binHz)) - firstBin,
    hop,
    gap: Math.max(1, Math.round(size / 2 / hop)),
  };
}
