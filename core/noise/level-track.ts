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
  readonly #carry = new Float32Array(4);
  #carried = 0;
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
    let previous = this.#previous;
    let low = this.#low;
    let lowPower = this.#lowPower;
    let middlePower = this.#middlePower;
    let highPower = this.#highPower;
    const steepness = this.#lowPass;
    for (let n = from; n < to; ) {
      const end = Math.min(to, n + this.#stepFrames - this.#inStep);
      this.#inStep += end - n;
      for (; n < end; n += 4) {
        const a = samples[n]!;
        const b = samples[n + 1]!;
        const c = samples[n + 2]!;
        const d = samples[n + 3]!;
        highPower += (a - previous) * (a - previous) + (b - a) * (b - a) + (c - b) * (c - b) + (d - c) * (d - c);
        previous = d;
        const four = a + b + c + d;
        low += steepness * (four - low);
        const rest = four - low;
        lowPower += low * low;
        middlePower += rest * rest;
      }
      if (this.#inStep === this.#stepFrames) {
        this.#finish(lowPower / (4 * this.#inStep), middlePower / (4 * this.#inStep), highPower / this.#inStep);
        lowPower = 0;
        middlePower = 0;
        highPower = 0;
        this.#inStep = 0;
      }
    }
    this.#previous = previous;
    this.#low = low;
    this.#lowPower = lowPower;
    this.#middlePower = middlePower;
    this.#highPower = highPower;
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
