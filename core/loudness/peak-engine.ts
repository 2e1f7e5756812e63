/** Frames that are passed over or interpolated together. With one cell to either side it holds every reach. */
export const CELL_FRAMES = 16;
/** Frames kept before and after those being searched, so that every reach lies in the work buffer. */
export const MARGIN_FRAMES = 2 * CELL_FRAMES;
/** Frames searched at a time. */
export const SEARCH_FRAMES = 4096;
/** Frames of a work buffer. */
export const WORK_FRAMES = MARGIN_FRAMES + SEARCH_FRAMES + MARGIN_FRAMES;

/**
 * The loops of peak reading over buffers of their own: one form in TypeScript, one in WebAssembly with the same results to
 * single precision.
 */
export interface PeakEngine {
  /** WORK_FRAMES samples each. */
  readonly work: Float32Array;
  readonly spare: Float32Array;
  /** Results of followFrames, SEARCH_FRAMES numbers. */
  readonly figures: Float32Array;
  /**
   * Greatest top of the SEARCH_FRAMES frames between the margins of `work` (or `spare`), or `peak` when none passes it.
   * Exact: only what cannot pass the peak is passed over.
   */
  search(inSpare: boolean, peak: number): number;
  /** Greatest magnitude of a sample in the frames of the last search. */
  lastSamplePeak(): number;
  /**
   * figures[n] = greatest magnitude strictly between the neighbours of frame 17 + n of `work`, n from 0 to count - 1
   * (count 1 to SEARCH_FRAMES); `work` holds 34 + count frames. `before`: what lies between frames 16 and 17. Returns
   * what lies after the last frame.
   */
  followFrames(count: number, before: number): number;
}
