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
  readonly #lowPass: number;
  #tracks = Array.from({ length: TRACK_BANDS }, () => new Float64Array(4096));
  #count = 0;
  #inStep = 0;
  #previous = 0;
  #low = 0;
  #four = 0;
  #lowPower = 0;
  #middlePower = 0;
  #highPower = 0;

  constructor(rateHz: number) {
    this.#stepFrames = 4 * Math.max(1, Math.round(rateHz / TRACK_RATE_HZ / 4));
    this.#lowPass = 1 - Math.exp((-2 * Math.PI * 250 * 4) / rateHz);
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

  add(samples: Float32Array): void {
    let previous = this.#previous;
    let four = this.#four;
    let low = this.#low;
    let lowPower = this.#lowPower;
    let middlePower = this.#middlePower;
    let highPower = this.#highPower;
    let inStep = this.#inStep;
    const steepness = this.#lowPass;
    for (let n = 0; n < samples.length; n++) {
      const sample = samples[n]!;
      const change = sample - previous;
      previous = sample;
      highPower += change * change;
      four += sample;
      inStep++;
      if ((inStep & 3) === 0) {
        low += steepness * (four - low);
        const rest = four - low;
        lowPower += low * low;
        middlePower += rest * rest;
        four = 0;
        if (inStep === this.#stepFrames) {
          this.#finish(lowPower / (4 * inStep), middlePower / (4 * inStep), highPower / inStep);
          lowPower = 0;
          middlePower = 0;
          highPower = 0;
          inStep = 0;
        }
      }
    }
    this.#previous = previous;
    this.#four = four;
    this.#low = low;
    this.#lowPower = lowPower;
    this.#middlePower = middlePower;
    this.#highPower = highPower;
    this.#inStep = inStep;
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
