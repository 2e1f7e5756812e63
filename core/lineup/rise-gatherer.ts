import type { ByteStore } from './byte-store.ts';
import { LEAST_RISE, LINES, type Rises } from './trace.ts';

/** Half a decibel a step. */
const STEPS_PER_OCTAVE = 12.0412;
const STEPS_PER_NEPER = STEPS_PER_OCTAVE / Math.LN2;
const STEP_ZERO = 172;
/** A float's bits, read as a whole number, are its logarithm in this many parts an octave, to 0.26 dB. */
const BITS_PER_OCTAVE = 2 ** 23;
const BITS_OF_ONE = 127 * BITS_PER_OCTAVE;
/** The floor under the logarithm: this share of the level of a usual partial, so that soft dirt does not count. */
const FLOOR_SHARE = 0.1;
/** Frames that are stored together. */
export const PIECE_FRAMES = 64;

/** From a float's bits to its level's step; half a step is added, since what follows is cut off. */
export const SCALE = (0.5 * STEPS_PER_OCTAVE) / BITS_PER_OCTAVE;
export const ZERO = STEP_ZERO + 0.5 - SCALE * BITS_OF_ONE;

/**
 * Keeps the levels of a recording's lines in half-decibel steps, frame by frame, until the floor of each line is known,
 * and then tells where they rose. The steps, 6.7 kB a second, go to the store. Memory: some 0.2 MB, and the rises.
 */
export class RiseGatherer {
  readonly #store: ByteStore;
  readonly #steps: FrameSteps;
  #pending = 0;
  #frames = 0;
  /** How often the loudest line of a frame had each step. */
  readonly #peaks = new Uint32Array(256);

  /** bins: of a spectrum; the lines are its bins from `firstLine` on. */
  constructor(store: ByteStore, bins: number, firstLine: number) {
    this.#store = store;
    this.#steps = new FrameSteps(bins, firstLine);
  }

  /** Frames so far. */
  get frames(): number {
    return this.#frames;
  }

  /** Where the spectrum of the next frame goes. */
  get re(): Float64Array {
    return this.#steps.re;
  }

  get im(): Float64Array {
    return this.#steps.im;
  }

  /** Takes the frame whose spectrum is in `re` and `im`. */
  add(): void {
    const peak = this.#steps.add(this.#pending);
    this.#peaks[peak]!++;
    this.#frames++;
    this.#pending++;
    if (this.#pending === PIECE_FRAMES) this.#drain();
  }

  #drain(): void {
    if (this.#pending === 0) return;
    this.#store.append(this.#steps.piece.subarray(0, this.#pending * LINES));
    this.#pending = 0;
  }

  /** The rises of all frames so far. */
  rises(): Omit<Rises, 'lengthSec'> {
    this.#drain();
    const frames = this.#frames;
    const levels = logLevels(this.#steps.counts, this.#peaks, frames);
    const riseFrom = new Uint32Array(frames + 1);
    const found = new RiseList();
    // The frame before the piece lies in front of it.
    const steps = new Uint8Array((PIECE_FRAMES + 1) * LINES);
    for (let first = 0; first < frames; first += PIECE_FRAMES) {
      const count = Math.min(PIECE_FRAMES, frames - first);
      steps.copyWithin(0, PIECE_FRAMES * LINES);
      this.#store.read(first * LINES, steps.subarray(LINES, (count + 1) * LINES));
      for (let n = 0; n < count; n++) {
        riseFrom[first + n] = found.length;
        if (first + n > 0) addRises(found, steps, n * LINES, levels);
      }
    }
    riseFrom[frames] = found.length;
    return { frames, riseFrom, riseLine: found.lines(), riseBy: found.sizes() };
  }
}

/**
 * For every line and step: the logarithm of the level above that line's floor, neper. counts: how often each line had each step; peaks: how often the
 * loudest line of a frame did.
 */
export function logLevels(counts: Uint32Array, peaks: Uint32Array, frames: number): Float32Array {
  const magnitudes = new Float64Array(256);
  for (let step = 0; step < 256; step++) magnitudes[step] = Math.exp((step - STEP_ZERO) / STEPS_PER_NEPER);
  const usual = magnitudes[quantileStep(peaks, 0, frames, 0.7)]!;
  const table = new Float32Array(LINES * 256);
  for (let n = 0; n < LINES; n++) {
    const noise = 2 * magnitudes[quantileStep(counts, n * 256, frames, 0.15)]!;
    const floor = Math.max(noise, FLOOR_SHARE * usual, 1e-9);
    for (let step = 0; step < 256; step++) table[n * 256 + step] = Math.log(magnitudes[step]! + floor);
  }
  return table;
}

/** Turns spectra into steps and counts them. */
class FrameSteps {
  /** The spectrum of the next frame. */
  readonly re: Float64Array;
  readonly im: Float64Array;
  /** Steps of PIECE_FRAMES frames. */
  readonly piece = new Uint8Array(PIECE_FRAMES * LINES);
  /** How often each line had each step. */
  readonly counts = new Uint32Array(LINES * 256);
  readonly #firstLine: number;
  readonly #powers = new Float32Array(LINES);
  readonly #powerBits = new Int32Array(this.#powers.buffer);

  constructor(bins: number, firstLine: number) {
    this.re = new Float64Array(bins);
    this.im = new Float64Array(bins);
    this.#firstLine = firstLine;
  }

  /** Writes the spectrum's steps as the nth frame of the piece; gives the greatest. */
  add(nth: number): number {
    const { re, im, piece, counts } = this;
    const first = this.#firstLine;
    const powers = this.#powers;
    for (let n = 0; n < LINES; n++) powers[n] = re[n + first]! * re[n + first]! + im[n + first]! * im[n + first]!;
    const to = nth * LINES;
    let peak = 0;
    for (let n = 0; n < LINES; n++) {
      const step = Math.max(0, Math.min(255, SCALE * this.#powerBits[n]! + ZERO)) | 0;
      piece[to + n] = step;
      counts[n * 256 + step]!++;
      if (step > peak) peak = step;
    }
    return peak;
  }
}

/** Rises of the frame that lies behind the one at `before`. */
function addRises(found: RiseList, steps: Uint8Array, before: number, levels: Float32Array): void {
  for (let n = 0; n < LINES; n++) {
    const step = steps[before + LINES + n]!;
    const earlier = steps[before + n]!;
    if (step <= earlier) continue;
    const rise = levels[n * 256 + step]! - levels[n * 256 + earlier]!;
    if (rise >= LEAST_RISE) found.add(n, rise);
  }
}

/** Lines and sizes of rises; grows by doubling. */
export class RiseList {
  #lines = new Uint8Array(4096);
  #sizes = new Float32Array(4096);
  length = 0;

  addAll(lines: Uint8Array, sizes: Float32Array): void {
    if (this.length + lines.length > this.#lines.length) this.#grow(this.length + lines.length);
    this.#lines.set(lines, this.length);
    this.#sizes.set(sizes, this.length);
    this.length += lines.length;
  }

  #grow(least: number): void {
    const lines = new Uint8Array(2 * least);
    const sizes = new Float32Array(2 * least);
    lines.set(this.#lines);
    sizes.set(this.#sizes);
    this.#lines = lines;
    this.#sizes = sizes;
  }

  add(line: number, size: number): void {
    if (this.length === this.#lines.length) this.#grow(this.length);
    this.#lines[this.length] = line;
    this.#sizes[this.length] = size;
    this.length++;
  }

  lines(): Uint8Array {
    return this.#lines.slice(0, this.length);
  }

  sizes(): Float32Array {
    return this.#sizes.slice(0, this.length);
  }
}

function quantileStep(counts: Uint32Array, from: number, total: number, share: number): number {
  let seen = 0;
  for (let step = 0; step < 256; step++) {
    seen += counts[from + step]!;
    if (seen >= share * total && seen > 0) return step;
  }
  return 0;
}
