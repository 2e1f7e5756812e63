import { ratioToDb } from '../signal/decibels.ts';

/** Times of a gain curve in frames. */
export interface GainCurveTimes {
  readonly lookAheadFrames: number;
  readonly holdFrames: number;
  readonly releaseFrames: number;
}

/**
 * Reductions are whole numbers of this part of 1 (-180 dB): running sums of whole numbers are exact in double, so the
 * curve comes back to exactly 1 and does not depend on how the sound was cut.
 */
const STEPS = 2 ** 30;
/** A release that has come within 0.001 dB of the end is over; the smoothing takes the corner off. */
const RELEASE_ENDS = STEPS * 1e-4;
/** Longest piece that `run` takes. */
export const MOST_CURVE_FRAMES = 1024;

/**
 * The gain of a look-ahead limiter from the peak around every frame. The reduction that each frame needs is held as a
 * maximum over look-ahead and hold, released exponentially, and smoothed by two running means whose lengths make up the
 * look-ahead. Each smoothed value is a mean of values none of which is less than what the frame needs, so the gain is
 * always low enough, and its slope has no step. gains[i] belongs to the frame `lookAheadFrames` before peak i.
 */
export class GainCurve {
  /** Least gain of all frames so far, linear; 1 when it never worked. */
  leastGain = 1;
  /** Least gain since it was set to 1 from outside, linear; for live reading. */
  leastGainLately = 1;
  workingFrames = 0;
  sumReductionDb = 0;
  frames = 0;
  readonly #gains = new Float64Array(MOST_CURVE_FRAMES).fill(1);
  readonly #window: number;
  readonly #keep: number;
  // A queue of falling maxima: the front is the greatest reduction in the window.
  readonly #queueMask: number;
  readonly #queueValue: Float64Array;
  readonly #queueFrame: Float64Array;
  #front = 0;
  #back = 0;
  readonly #first: Float64Array;
  readonly #second: Float64Array;
  #firstAt = 0;
  #secondAt = 0;
  #firstSum = 0;
  #secondSum = 0;
  #released = 0;

  constructor(times: GainCurveTimes) {
    const { lookAheadFrames, holdFrames, releaseFrames } = times;
    this.#window = lookAheadFrames + holdFrames + 1;
    this.#keep = Math.exp(-1 / releaseFrames);
    const capacity = 2 ** Math.ceil(Math.log2(this.#window + 2));
    this.#queueMask = capacity - 1;
    this.#queueValue = new Float64Array(capacity);
    this.#queueFrame = new Float64Array(capacity);
    // Means of n and m frames one after the other span n + m - 1 = lookAheadFrames + 1.
    const first = Math.floor(lookAheadFrames / 2) + 1;
    this.#first = new Float64Array(first);
    this.#second = new Float64Array(lookAheadFrames + 2 - first);
  }

  /** True when the gain is 1 and stays so until another peak comes. */
  get resting(): boolean {
    return this.#front === this.#back && this.#released === 0 && this.#firstSum === 0 && this.#secondSum === 0;
  }

  /** Passes over frames while resting. */
  rest(count: number): void {
    this.frames += count;
  }

  /** Gains for `count` frames (1024 at most) from the peaks around them, linear. Valid until the next call. */
  run(peaks: Float64Array, count: number, ceiling: number): Float64Array {
    // Locals: fields of the object in this loop cost half as much again.
    const gains = this.#gains;
    const first = this.#first;
    const second = this.#second;
    const keep = this.#keep;
    const scale = 1 / (STEPS * first.length * second.length);
    let released = this.#released;
    let firstSum = this.#firstSum;
    let secondSum = this.#secondSum;
    let firstAt = this.#firstAt;
    let secondAt = this.#secondAt;
    for (let i = 0; i < count; i++) {
      const peak = peaks[i]!;
      const needed = peak > ceiling ? Math.ceil((1 - ceiling / peak) * STEPS) : 0;
      const held = needed > 0 || this.#front !== this.#back ? this.#greatest(needed) : 0;
      const falling = Math.floor(released * keep);
      released = falling < RELEASE_ENDS ? held : Math.max(held, falling);
      firstSum += released - first[firstAt]!;
      first[firstAt] = released;
      if (++firstAt === first.length) firstAt = 0;
      secondSum += firstSum - second[secondAt]!;
      second[secondAt] = firstSum;
      if (++secondAt === second.length) secondAt = 0;
      this.frames++;
      gains[i] = 1 - secondSum * scale;
    }
    this.#released = released;
    this.#firstSum = firstSum;
    this.#secondSum = secondSum;
    this.#firstAt = firstAt;
    this.#secondAt = secondAt;
    this.#count(count);
    return gains;
  }

  reset(): void {
    this.leastGain = 1;
    this.leastGainLately = 1;
    this.workingFrames = 0;
    this.sumReductionDb = 0;
    this.frames = 0;
    this.#front = 0;
    this.#back = 0;
    this.#first.fill(0);
    this.#second.fill(0);
    this.#firstSum = 0;
    this.#secondSum = 0;
    this.#released = 0;
  }

  #greatest(needed: number): number {
    const mask = this.#queueMask;
    const values = this.#queueValue;
    if (needed > 0) {
      while (this.#back > this.#front && values[(this.#back - 1) & mask]! <= needed) this.#back--;
      values[this.#back & mask] = needed;
      this.#queueFrame[this.#back & mask] = this.frames;
      this.#back++;
    }
    if (this.#back === this.#front) return 0;
    if (this.#queueFrame[this.#front & mask]! <= this.frames - this.#window) {
      this.#front++;
      if (this.#back === this.#front) {
        // The places count on for ever otherwise, past what `&` can hold.
        this.#front = 0;
        this.#back = 0;
        return 0;
      }
    }
    return values[this.#front & mask]!;
  }

  #count(count: number): void {
    // The product of the gains has the sum of their dB: one logarithm for up to 16 frames instead of one each.
    for (let from = 0; from < count; from += 16) {
      let product = 1;
      for (let i = from; i < Math.min(count, from + 16); i++) {
        const gain = this.#gains[i]!;
        if (gain >= 1) continue;
        this.workingFrames++;
        product *= gain;
        if (gain < this.leastGain) this.leastGain = gain;
        if (gain < this.leastGainLately) this.leastGainLately = gain;
      }
      if (product < 1) this.sumReductionDb -= ratioToDb(product);
    }
  }
}
