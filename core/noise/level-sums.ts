import { type Kernel, loadKernel } from './kernel/kernel.ts';

/** Sums of squares in three bands over some samples, and the largest magnitude among them. */
export interface LevelSums {
  low: number;
  middle: number;
  high: number;
  /** Adds samples from ... to - 1, a multiple of four. */
  add(samples: Float32Array, from: number, to: number): void;
  /** Brings the three sums up to date; they hold what was added since `clear`. */
  settle(): void;
  clear(): void;
  /** Largest magnitude added since the last call. */
  takePeak(): number;
}

/** Samples a call brings at most. */
const LONGEST = 4096;

/** In the kernel where it is to be had, else in plain TypeScript. steepness: of the low pass, at a quarter of the rate. */
export function makeLevelSums(steepness: number, engine: 'kernel' | 'plain' = 'kernel'): LevelSums {
  const kernel = engine === 'kernel' ? loadKernel() : undefined;
  return kernel === undefined ? new PlainLevelSums(steepness) : new KernelLevelSums(kernel, steepness);
}

class PlainLevelSums implements LevelSums {
  low = 0;
  middle = 0;
  high = 0;
  readonly #steepness: number;
  #peak = 0;
  #previous = 0;
  #lowState = 0;

  constructor(steepness: number) {
    this.#steepness = steepness;
  }

  add(samples: Float32Array, from: number, to: number): void {
    let { low, middle, high } = this;
    let peak = this.#peak;
    let previous = this.#previous;
    let lowState = this.#lowState;
    const steepness = this.#steepness;
    for (let n = from; n < to; n += 4) {
      const a = samples[n]!;
      const b = samples[n + 1]!;
      const c = samples[n + 2]!;
      const d = samples[n + 3]!;
      high += (a - previous) * (a - previous) + (b - a) * (b - a) + (c - b) * (c - b) + (d - c) * (d - c);
      peak = Math.max(peak, Math.abs(a), Math.abs(b), Math.abs(c), Math.abs(d));
      previous = d;
      const four = a + b + c + d;
      lowState += steepness * (four - lowState);
      const rest = four - lowState;
      low += lowState * lowState;
      middle += rest * rest;
    }
    Object.assign(this, { low, middle, high });
    this.#peak = peak;
    this.#previous = previous;
    this.#lowState = lowState;
  }

  settle(): void {}

  clear(): void {
    Object.assign(this, { low: 0, middle: 0, high: 0 });
  }

  takePeak(): number {
    const peak = this.#peak;
    this.#peak = 0;
    return peak;
  }
}

class KernelLevelSums implements LevelSums {
  low = 0;
  middle = 0;
  high = 0;
  readonly #kernel: Kernel;
  readonly #levels: number;
  readonly #samples: Float32Array;
  readonly #fields: Float32Array;

  constructor(kernel: Kernel, steepness: number) {
    this.#kernel = kernel;
    this.#levels = kernel.exports.levels(LONGEST, steepness);
    const address = new Int32Array(kernel.exports.memory.buffer, this.#levels, 1)[0]!;
    this.#samples = kernel.floats(address, LONGEST);
    this.#fields = kernel.floats(this.#levels + 4, 3);
  }

  add(samples: Float32Array, from: number, to: number): void {
    for (let at = from; at < to; at += LONGEST) {
      const end = Math.min(to, at + LONGEST);
      this.#samples.set(samples.subarray(at, end));
      this.#kernel.exports.addLevels(this.#levels, end - at);
    }
  }

  settle(): void {
    this.#kernel.exports.takeLevels(this.#levels);
    const [low, middle, high] = this.#fields;
    this.low = low!;
    this.middle = middle!;
    this.high = high!;
  }

  clear(): void {
    this.#fields.fill(0);
  }

  takePeak(): number {
    return this.#kernel.exports.takePeak(this.#levels);
  }
}
