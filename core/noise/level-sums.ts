import { type Kernel, loadKernel } from './kernel/kernel.ts';

/** Sums of squares in three bands over steps of a sound, and the largest magnitude. */
export interface LevelSums {
  /** Samples a call of `add` may bring. */
  readonly longest: number;
  /** Sums of the steps that the last `add` finished: low, middle, high, one step behind the other. */
  readonly finished: Float32Array;
  /** Adds at most `longest` samples. Gives the number of steps they finished; how the sound was cut makes no difference. */
  add(samples: Float32Array): number;
  /** Largest magnitude added since the last call; some of the last samples may count again in the next. */
  takePeak(): number;
}

/** Samples a call brings at most. */
const LONGEST = 65536;

/**
 * In the kernel where it is to be had, else in plain TypeScript. stepFrames: a multiple of four; steepness: of the low
 * pass, at a quarter of the rate.
 */
export function makeLevelSums(stepFrames: number, steepness: number, engine: 'kernel' | 'plain' = 'kernel'): LevelSums {
  const kernel = engine === 'kernel' ? loadKernel() : undefined;
  return kernel === undefined
    ? new PlainLevelSums(stepFrames, steepness)
    : new KernelLevelSums(kernel, stepFrames, steepness);
}

class PlainLevelSums implements LevelSums {
  readonly longest = LONGEST;
  readonly finished: Float32Array;
  readonly #stepFrames: number;
  readonly #steepness: number;
  #inStep = 0;
  #low = 0;
  #middle = 0;
  #high = 0;
  #peak = 0;
  #previous = 0;
  #lowState = 0;
  readonly #carry = new Float32Array(4);
  #carried = 0;

  constructor(stepFrames: number, steepness: number) {
    this.#stepFrames = stepFrames;
    this.#steepness = steepness;
    this.finished = new Float32Array(3 * (Math.floor(LONGEST / stepFrames) + 1));
  }

  add(samples: Float32Array): number {
    let steps = 0;
    let n = 0;
    // Four at a time, whatever the cuts: what is left over waits for the next call.
    while (this.#carried > 0 && n < samples.length) {
      this.#carry[this.#carried++] = samples[n++]!;
      if (this.#carried === 4) {
        steps = this.#addFours(this.#carry, 0, 4, steps);
        this.#carried = 0;
      }
    }
    const whole = n + ((samples.length - n) & ~3);
    steps = this.#addFours(samples, n, whole, steps);
    for (n = whole; n < samples.length; n++) this.#carry[this.#carried++] = samples[n]!;
    return steps;
  }

  #addFours(samples: Float32Array, from: number, to: number, finished: number): number {
    let steps = finished;
    for (let at = from; at < to; ) {
      const end = Math.min(to, at + this.#stepFrames - this.#inStep);
      this.#addStretch(samples, at, end);
      this.#inStep += end - at;
      at = end;
      if (this.#inStep === this.#stepFrames) this.#finish(steps++);
    }
    return steps;
  }

  #addStretch(samples: Float32Array, from: number, to: number): void {
    let low = this.#low;
    let middle = this.#middle;
    let high = this.#high;
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
    this.#low = low;
    this.#middle = middle;
    this.#high = high;
    this.#peak = peak;
    this.#previous = previous;
    this.#lowState = lowState;
  }

  #finish(step: number): void {
    this.finished[3 * step] = this.#low;
    this.finished[3 * step + 1] = this.#middle;
    this.finished[3 * step + 2] = this.#high;
    this.#low = 0;
    this.#middle = 0;
    this.#high = 0;
    this.#inStep = 0;
  }

  takePeak(): number {
    let peak = this.#peak;
    for (let n = 0; n < this.#carried; n++) peak = Math.max(peak, Math.abs(this.#carry[n]!));
    this.#peak = 0;
    return peak;
  }
}

class KernelLevelSums implements LevelSums {
  readonly longest = LONGEST;
  readonly finished: Float32Array;
  readonly #kernel: Kernel;
  readonly #levels: number;
  readonly #samples: Float32Array;
  readonly #samplesAt: number;

  constructor(kernel: Kernel, stepFrames: number, steepness: number) {
    this.#kernel = kernel;
    this.#levels = kernel.exports.levels(LONGEST, stepFrames, steepness);
    const addresses = new Int32Array(kernel.exports.memory.buffer, this.#levels, 2);
    this.#samplesAt = addresses[0]!;
    // Behind what waits for its group there is room for the longest call.
    this.#samples = kernel.floats(this.#samplesAt, LONGEST + 16);
    this.finished = kernel.floats(addresses[1]!, 3 * (Math.floor(LONGEST / stepFrames) + 1));
  }

  add(samples: Float32Array): number {
    const { exports } = this.#kernel;
    this.#samples.set(samples, (exports.levelsInput(this.#levels) - this.#samplesAt) / 4);
    return exports.addLevels(this.#levels, samples.length);
  }

  takePeak(): number {
    return this.#kernel.exports.takePeak(this.#levels);
  }
}
