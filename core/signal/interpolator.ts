/** Fills `target` with input frames from `fromFrame` (whole, may be negative) on. A Sound is one. */
export interface FrameReader {
  read(fromFrame: number, target: Float32Array): void;
}

/**
 * Sound at any places of its time line: frame k of the result is the input at `startFrame + k * step`, for any real step.
 * Rate conversion and drift correction are both this, in one pass. Each place is computed from the whole number k in
 * double, so that no error gathers (below 1e-6 frames after 10 h), and depends on nothing else: the result does not
 * depend on how it is asked for.
 *
 * Measured on sines (test/core/signal/resample.test.ts holds the bounds): error below -100 dB up to 0.88 of the lower Nyquist
 * frequency, gain within 0.02 dB at 0.9 of it.
 *
 * For steps near 1 and below, first a half-band interpolator to twice the rate (shared by all places), then 12 taps from a
 * table of phases with linear interpolation between them: the cost of 40 taps where a single table needs 64 twice. For
 * larger steps one windowed-sinc table after Smith & Gossett 1984 (ICASSP), its cutoff lowered to the result's Nyquist
 * frequency.
 * Memory: some 100 kB, 1 MB at a step of 4. Allocates nothing while running.
 */
export interface Interpolator {
  /**
   * Writes `count` frames, those of k = fromIndex and on, to `output` at `outputFrom`.
   * The first place is `startFrame + fromIndex * step`.
   */
  run(
    input: FrameReader,
    startFrame: number,
    fromIndex: number,
    output: Float32Array,
    outputFrom: number,
    count: number,
  ): void;
  /** Input frames needed on either side of a place. */
  readonly reachFrames: number;
}

/** Output frames worked on at once: the scratch stays in the first cache. */
export const CHUNK_FRAMES = 1024;

/** Input frames in double. Two arrays, because a loop that saw both kinds would run several times slower. */
export class Staging {
  readonly #single: Float32Array;
  readonly #double: Float64Array;
  #view: Float32Array;

  constructor(frames: number) {
    this.#single = new Float32Array(frames);
    this.#double = new Float64Array(frames);
    this.#view = this.#single;
  }

  read(input: FrameReader, fromFrame: number, frames: number): Float64Array {
    if (this.#view.length !== frames) this.#view = this.#single.subarray(0, frames);
    input.read(fromFrame, this.#view);
    const single = this.#single;
    const double = this.#double;
    for (let n = 0; n < frames; n++) double[n] = single[n]!;
    return double;
  }
}
