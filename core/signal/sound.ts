/**
 * A mono recording that can be read anywhere, as often as wanted, without lying in memory as a whole.
 * `app` gives one over a cached file, tests give one over an array. Reading is synchronous.
 */
export interface Sound {
  readonly rateHz: number;
  readonly lengthFrames: number;
  /**
   * Fills `target` with the frames from `fromFrame` (whole number, may be negative) on; frames before 0 and past the
   * end are 0.
   */
  read(fromFrame: number, target: Float32Array): void;
}

/** A Sound over samples that lie in memory. For tests and short stretches. */
export function soundOf(samples: Float32Array, rateHz: number): Sound {
  return {
    rateHz,
    lengthFrames: samples.length,
    read(fromFrame, target) {
      target.fill(0);
      const from = Math.max(0, fromFrame);
      const to = Math.min(samples.length, fromFrame + target.length);
      if (to > from) target.set(samples.subarray(from, to), from - fromFrame);
    },
  };
}
