import { type LevelSums, makeLevelSums } from './level-sums.ts';

/** Frames per second of a level track. */
export const TRACK_RATE_HZ = 20;
/** Low: below about 250 Hz; middle: to about 3 kHz; high: above. First-order splits, cheap and wide. */
export const TRACK_BANDS = 3;

/**
 * Power of a take in three bands, 20 times a second. One pass, some eight operations a sample.
 * Memory: three numbers per 50 ms (0.9 MB an hour).
 */
export class LevelTrack {
  readonly #stepFrames: number;
  #tracks = Array.from({ length: TRACK_BANDS }, () => new Float64Array(4096));
  #count = 0;
  #inStep = 0;
  readonly #carry = new Float32Array(4);
  #carried = 0;
  readonly #sums: LevelSums;

  constructor(rateHz: number, engine: 'kernel' | 'plain' = 'kernel') {
    this.#stepFrames = 4 * Math.max(1, Math.round(rateHz / TRACK_RATE_HZ / 4));
    this.#sums = makeLevelSums(1 - Math.exp((-2 * Math.PI * 250 * 4) / rateHz), engine);
  }

  /** Frames of one step of the track. */
  get stepFrames(): number {
    return this.#stepFrames;
  }

  /** Whole steps so far. */
  get steps(): number {
    return this.#count;
  }

  /** Mean power of step n in a band (0 low, 1 middle, 2 high). */
  power(band: number, n: number): number {
    return this.#tracks[band]![n]!;
  }

  /** Largest magnitude of what was added since the last call. */
  takePeak(): number {
    let peak = this.#sums.takePeak();
    for (let n = 0; n < this.#carried; n++) peak = Math.max(peak, Math.abs(this.#carry[n]!));
    return peak;
  }

  add(samples: Float32Array): void {
    let n = 0;
    // Four at a time, whatever the cuts: what is left over waits for the next call.
    while (this.#carried > 0 && n < samples.length) {
      this.#carry[this.#carried++] = samples[n++]!;
      if (this.#carried === 4) {
        this.#addFours(this.#carry, 0, 4);
        this.#carried = 0;
      }
    }
    const whole = n + ((samples.length - n) & ~3);
    this.#addFours(samples, n, whole);
    for (n = whole; n < samples.length; n++) this.#carry[this.#carried++] = samples[n]!;
  }

  #addFours(samples: Float32Array, from: number, to: number): void {
    const sums = this.#sums;
    for (let n = from; n < to; ) {
      const end = Math.min(to, n + this.#stepFrames - this.#inStep);
      sums.add(samples, n, end);
      this.#inStep += end - n;
      n = end;
      if (this.#inStep === this.#stepFrames) {
        sums.settle();
        this.#finish(sums.low / (4 * this.#inStep), sums.middle / (4 * this.#inStep), sums.high / this.#inStep);
        sums.clear();
        this.#inStep = 0;
      }
    }
  }

  #finish(low: number, middle: number, high: number): void {
    if (this.#count === this.#tracks[0]!.length) {
      this.#tracks = this.#tracks.map((track) => {
        const longer = new Float64Array(2 * track.length);
        longer.set(track);
        return longer;
      });
    }
    this.#tracks[0]![this.#count] = low;
    this.#tracks[1]![this.#count] = middle;
    this.#tracks[2]![this.#count] = high;
    this.#count++;
  }
}
