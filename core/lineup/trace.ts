/** Seconds from one spectral frame of a trace to the next. */
export const FRAME_SEC = 0.024;
/** Seconds a number of the two energy traces stands for. */
export const TICK_SEC = 0.002;
/** Spectral lines a frame keeps: 62 Hz to about 1300 Hz. Higher ones carry the guide's clicks more than its notes. */
export const LINES = 160;

/** Rises below this are not kept, neper (some 3 dB). */
export const LEAST_RISE = 0.35;

/** Where notes begin, line by line. Some 0.5 kB a second. */
export interface Rises {
  readonly lengthSec: number;
  /** Spectral frames; frame n is centred on n * FRAME_SEC. */
  readonly frames: number;
  /** Rises of frame n are entries riseFrom[n] to riseFrom[n + 1] - 1 of riseLine and riseBy. */
  readonly riseFrom: Uint32Array;
  /** Line of a rise, 0 to LINES - 1, in order within a frame. */
  readonly riseLine: Uint8Array;
  /** Size of a rise, neper over one frame. */
  readonly riseBy: Float32Array;
}

/** How loud a recording is every 2 ms. 4 kB a second. */
export interface Levels {
  readonly lengthSec: number;
  /** Mean square of the sound, a number a tick. */
  readonly energy: Float32Array;
  /** Mean square of its first difference: the same for high frequencies. */
  readonly edge: Float32Array;
}

/** What line-up remembers of a recording after one reading. */
export type Trace = Rises & Levels;

/**
 * A trace part by part, so that only what is looked at is in memory. What `levels` gives is good until the next call of
 * `levels` of any source; what `rises` gives stays good.
 */
export interface TraceSource {
  rises(): Rises;
  levels(): Levels;
}

/** A trace in memory as a source. */
export function sourceOf(trace: Trace): TraceSource {
  return { rises: () => trace, levels: () => trace };
}
