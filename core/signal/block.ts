/**
 * Some frames of planar sound: one Float32Array a channel, all of one length. Full scale is 1; values may
 * pass 1 before the limiter. A reader never keeps a block past the call it was handed in: buffers are reused.
 */
export type Block = readonly Float32Array[];

/** Frames in a block; 0 for a block without channels. */
export function blockLength(block: Block): number {
  return block[0]?.length ?? 0;
}

/**
 * A plain synchronous stage of a render.
 *
 * It takes blocks of any length and gives blocks; the sound does not depend on how the input was cut. All memory is
 * taken in the constructor. A stage with latency gives fewer frames at first, and the rest from `flush`: over a whole
 * run it gives exactly as many frames as it was handed, in step with its input (latency is compensated, not heard).
 */
export interface Processor {
  /** How many frames the stage holds back before its first output frame. */
  readonly latencyFrames: number;
  /**
   * Takes one block and gives the frames that are ready (maybe none). The returned arrays are only valid until the
   * next call. Output channel count is fixed by the stage.
   */
  process(input: Block): Block;
  /** Gives the frames still held back. After it only `reset` may be called. */
  flush(): Block;
  /** Back to the state of a new stage. */
  reset(): void;
}

/**
 * A plain synchronous measure: blocks of any length go in, a record comes out at any time.
 */
export interface Meter<Result> {
  add(block: Block): void;
  result(): Result;
}
