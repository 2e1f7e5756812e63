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
  readonly #sums: LevelSums;

  constructor(rateHz: number, engine: 'kernel' | 'plain' = 'kernel') {
    this.#stepFrames = 4 * Math.max(1, Math.round(rateHz / TRACK_RATE_HZ / 4));
    const steepness = 1 - Math.exp((-2 * Math.PI * 250 * 4) / rateHz);
    this.#sums = makeLevelSums(this.#stepFrames, steepness, engine);
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
    return this.#sums.takePeak();
  }

  add(samples: Float32Array): void {
    const { finished, longest } = this.#sums;
    for (let n = 0; n < samples.length; n += longest) {
      const whole = samples.length <= longest;
      const steps = this.#sums.add(whole ? samples : samples.subarray(n, n + longest));
      for (let step = 0; step < steps; step++) {
        this.#finish(finished[3 * step]!, finished[3 * step + 1]!, finished[3 * step + 2]!);
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
    const frames = this.#stepFrames;
    this.#tracks[0]![this.#count] = low / (4 * frames);
    this.#tracks[1]![this.#count] = middle / (4 * frames);
    this.#tracks[2]![this.#count] = high / frames;
    this.#count++;
  }
}
