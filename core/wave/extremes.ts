import { loadSampleKernel, type SampleKernel } from './kernel/sample-kernel.ts';

/** Samples that the kernel is handed at once. */
const LONGEST = 16384;

/** Lowest and highest of samples, stretch by stretch, and whether they are numbers. */
export interface Extremes {
  /** Most samples of a call of `take`. */
  readonly longest: number;
  /** Of the stretch looked at last; 0 where it lies above, or below. */
  readonly lowest: number;
  readonly highest: number;
  /** Whether all samples so far were finite numbers. */
  readonly isFinite: boolean;
  take(samples: Float32Array): void;
  /** Looks at what was taken last from one sample to before another. Samples that are no numbers are passed over. */
  look(from: number, to: number): void;
}

/** In the kernel where it is to be had; 'plain' gives the same to the last bit. */
export function makeExtremes(engine: 'kernel' | 'plain' = 'kernel'): Extremes {
  const kernel = engine === 'kernel' ? loadSampleKernel() : undefined;
  return kernel === undefined ? new PlainExtremes() : new KernelExtremes(kernel);
}

class PlainExtremes implements Extremes {
  readonly longest = LONGEST;
  lowest = 0;
  highest = 0;
  isFinite = true;
  #samples: Float32Array = new Float32Array(0);

  take(samples: Float32Array): void {
    this.#samples = samples;
  }

  look(from: number, to: number): void {
    const samples = this.#samples;
    let lowest = 0;
    let highest = 0;
    let strange = 0;
    for (let n = from; n < to; n++) {
      const value = samples[n]!;
      if (value < lowest) lowest = value;
      if (value > highest) highest = value;
      // Not a number from the first one on that is none.
      strange += value - value;
    }
    this.lowest = lowest;
    this.highest = highest;
    if (Number.isNaN(strange)) this.isFinite = false;
  }
}

class KernelExtremes implements Extremes {
  readonly longest = LONGEST;
  readonly #kernel: SampleKernel;
  readonly #samples: Float32Array;
  readonly #found: Float32Array;

  constructor(kernel: SampleKernel) {
    this.#kernel = kernel;
    const samplesAt = kernel.allocate(4 * LONGEST);
    const foundAt = kernel.allocate(12);
    this.#samples = new Float32Array(kernel.memory.buffer, samplesAt, LONGEST);
    this.#found = new Float32Array(kernel.memory.buffer, foundAt, 3);
  }

  get lowest(): number {
    return this.#found[0]!;
  }

  get highest(): number {
    return this.#found[1]!;
  }

  get isFinite(): boolean {
    return this.#found[2] === 0;
  }

  take(samples: Float32Array): void {
    this.#samples.set(samples);
  }

  look(from: number, to: number): void {
    this.#kernel.extremes(this.#samples.byteOffset + 4 * from, to - from, this.#found.byteOffset);
  }
}
