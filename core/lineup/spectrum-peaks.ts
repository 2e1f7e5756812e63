import { RealFft } from '../signal/fft.ts';

/** A partial in a spectrum. */
export interface Peak {
  readonly hz: number;
  /** In proportion to its power, alike for windows of one length. */
  readonly power: number;
  /** Of the middle of the window, radians. */
  readonly phase: number;
  /** Over what lies around, dB. */
  readonly overDb: number;
}

/** Partials are peaks so far over what lies around, and at most this far below the strongest, dB. */
const OVER_DB = 12;
const LEAST_OVER = 10 ** (OVER_DB / 10);
const BELOW_DB = 45;
const MOST_PARTIALS = 24;
const FLOOR_BINS = 128;

/** Finds partials in stretches of sound. Memory: 100 kB; what it gives is new each time. */
export class PeakFinder {
  readonly #rate: number;
  readonly #size: number;
  readonly #fft: RealFft;
  readonly #row: Float64Array;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  readonly #power: Float64Array;
  readonly #floor: Float64Array;
  /** The least of a part, rising. */
  readonly #least = new Float64Array(FLOOR_BINS / 16 + 1);
  /** Bins that may be partials, how many there are, and the greatest power of any peak. */
  readonly #candidates: Int32Array;
  #count = 0;
  #most = 0;
  /** Windows by their lengths. */
  readonly #windows = new Map<number, Float64Array>();

  /** size: of the transform, a power of two; no stretch may be longer, and twice as much is better. */
  constructor(rateHz: number, size = 2048) {
    this.#rate = rateHz;
    this.#size = size;
    this.#fft = new RealFft(size);
    this.#row = new Float64Array(size);
    this.#re = new Float64Array(this.#fft.bins);
    this.#im = new Float64Array(this.#fft.bins);
    this.#power = new Float64Array(this.#fft.bins);
    this.#floor = new Float64Array(size / 2 / FLOOR_BINS);
    this.#candidates = new Int32Array(this.#fft.bins);
  }

  /** What lies around partials, noise or the gaps between them: the lower quartile of every FLOOR_BINS bins, by every fourth of them. */
  #learnFloor(): void {
    for (let n = 0; n < this.#floor.length; n++) {
      // The quartile of noise lies at 0.288 of its mean.
      this.#floor[n] = lowerQuartile(this.#power, n * FLOOR_BINS, this.#least) / 0.288;
    }
  }

  #floorAt(k: number): number {
    const place = Math.max(0, Math.min(this.#floor.length - 1.001, k / FLOOR_BINS - 0.5));
    const n = Math.floor(place);
    return this.#floor[n]! + (place - n) * (this.#floor[n + 1]! - this.#floor[n]!);
  }

  /** Hann's window. */
  #windowOf(length: number): Float64Array {
    let window = this.#windows.get(length);
    if (window === undefined) {
      window = Float64Array.from({ length }, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 0.5)) / length));
      this.#windows.set(length, window);
    }
    return window;
  }

  /** Peaks of a Hann spectrum; phases are those of the window's middle. */
  find(samples: Float64Array): Peak[] {
    const size = this.#size;
    setTurned(this.#row, samples, this.#windowOf(samples.length));
    this.#fft.forward(this.#row, this.#re, this.#im);
    const power = this.#power;
    setPower(power, this.#re, this.#im);
    const lobe = Math.ceil((2 * size) / samples.length);
    this.#learnFloor();
    this.#setCandidates(lobe);
    return this.#strongest().map((k) => this.#peakAt(k));
  }

  /** Bins that stand over both neighbours and over what lies around. */
  #setCandidates(lobe: number): void {
    const power = this.#power;
    this.#count = 0;
    this.#most = 0;
    for (let k = lobe; k < power.length - lobe; k++) {
      if (power[k]! < power[k - 1]! || power[k]! < power[k + 1]! || !isHighest(power, k, lobe >> 1)) continue;
      this.#most = Math.max(this.#most, power[k]!);
      if (power[k]! >= LEAST_OVER * this.#floorAt(k)) this.#candidates[this.#count++] = k;
    }
  }

  /** At most MOST_PARTIALS of the candidates, the strongest first. */
  #strongest(): number[] {
    const power = this.#power;
    const least = this.#most * 10 ** (-BELOW_DB / 10);
    const chosen: number[] = [];
    for (let n = 0; n < this.#count; n++) {
      const k = this.#candidates[n]!;
      if (power[k]! <= least) continue;
      let at = chosen.length;
      while (at > 0 && power[chosen[at - 1]!]! < power[k]!) at--;
      if (at >= MOST_PARTIALS) continue;
      chosen.splice(at, 0, k);
      if (chosen.length > MOST_PARTIALS) chosen.pop();
    }
    return chosen;
  }

  #peakAt(k: number): Peak {
    const power = this.#power;
    const before = Math.log(power[k - 1]!);
    const here = Math.log(power[k]!);
    const after = Math.log(power[k + 1]!);
    const bend = before - 2 * here + after;
    const hz = ((k + (bend < 0 ? (0.5 * (before - after)) / bend : 0)) * this.#rate) / this.#size;
    // The middle of an even number of samples lies half a sample before place zero.
    const phase = Math.atan2(this.#im[k]!, this.#re[k]!) - (Math.PI * hz) / this.#rate;
    return { hz, power: power[k]!, phase, overDb: 10 * Math.log10(power[k]! / this.#floorAt(k)) };
  }
}

/** Windowed samples, the middle at place zero, so that the phase does not turn along a lobe. */
function setTurned(row: Float64Array, samples: Float64Array, window: Float64Array): void {
  const half = samples.length >> 1;
  row.fill(0);
  for (let n = 0; n < half; n++) row[n - half + row.length] = window[n]! * samples[n]!;
  for (let n = half; n < samples.length; n++) row[n - half] = window[n]! * samples[n]!;
}

/** Of every fourth of FLOOR_BINS bins; sorted by insertion, and no further than to the quartile. */
function lowerQuartile(power: Float64Array, from: number, least: Float64Array): number {
  least.fill(Number.POSITIVE_INFINITY);
  const last = least.length - 1;
  for (let k = from; k < from + FLOOR_BINS; k += 4) {
    const value = power[k]!;
    if (value >= least[last]!) continue;
    let at = last;
    for (; at > 0 && least[at - 1]! > value; at--) least[at] = least[at - 1]!;
    least[at] = value;
  }
  return least[last]!;
}

function setPower(power: Float64Array, re: Float64Array, im: Float64Array): void {
  for (let k = 0; k < power.length; k++) power[k] = re[k]! * re[k]! + im[k]! * im[k]! + 1e-20;
}

function isHighest(power: Float64Array, k: number, reach: number): boolean {
  for (let j = k - reach; j <= k + reach; j++) if (power[j]! > power[k]!) return false;
  return true;
}
