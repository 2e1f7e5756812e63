import { type FftKernel, loadFftKernel } from './fft/kernel/fft-kernel.ts';
import type { FftEngine } from './fft-engine.ts';

/** Below it the way into the kernel costs more than it saves; above it a kernel's memory, which is never given back, is too much. */
const LEAST_SIZE = 64;
const MOST_SIZE = 65536;

/** One of each size serves all: nothing of a transform stays in it. */
const made = new Map<number, SimdFft>();

/** The kernel's transform of a size; undefined where there is none. Memory: 64 bytes a sample, once a thread. */
export function simdFft(size: number): FftEngine | undefined {
  if (size < LEAST_SIZE || size > MOST_SIZE) return undefined;
  const known = made.get(size);
  if (known !== undefined) return known;
  const kernel = loadFftKernel();
  if (kernel === undefined) return undefined;
  const fft = new SimdFft(kernel, size);
  made.set(size, fft);
  return fft;
}

class SimdFft implements FftEngine {
  readonly #kernel: FftKernel;
  readonly #samples: Float64Array;
  readonly #re: Float64Array;
  readonly #im: Float64Array;

  constructor(kernel: FftKernel, size: number) {
    if (kernel.plan(size) === 0) throw new RangeError(`size is ${size}; allowed what the memory holds`);
    this.#kernel = kernel;
    const { buffer } = kernel.memory;
    const bins = size / 2 + 1;
    this.#samples = new Float64Array(buffer, kernel.samplesAt(), size);
    this.#re = new Float64Array(buffer, kernel.spectrumAt(), bins);
    this.#im = new Float64Array(buffer, kernel.spectrumAt() + 4 * size + 64, bins);
    setTwiddles(new Float64Array(buffer, kernel.twiddlesAt()), size / 2);
    setSplits(new Float64Array(buffer, kernel.splitsAt()), size);
  }

  forward(input: Float64Array, re: Float64Array, im: Float64Array): void {
    this.#samples.set(input);
    this.#kernel.forward();
    re.set(this.#re);
    im.set(this.#im);
  }

  inverse(re: Float64Array, im: Float64Array, output: Float64Array): void {
    this.#re.set(re);
    this.#im.set(im);
    this.#kernel.inverse();
    output.set(this.#samples);
  }
}

/**
 * Stage by stage the three twiddles of each group: real and imaginary part of w, w squared and w cubed; in the first stage those of
 * two groups side by side.
 */
export function setTwiddles(target: Float64Array, half: number): void {
  let at = 0;
  for (let count = half, stride = 1; count >= 4; count >>= 2, stride *= 4) {
    const wide = stride === 1 ? 2 : 1;
    for (let p = 0; p < count >> 2; p++) {
      const angle = (2 * Math.PI * (p * stride)) / half;
      const twice = (2 * Math.PI * (2 * p * stride)) / half;
      const w1Re = Math.cos(angle);
      const w1Im = -Math.sin(angle);
      const w2Re = Math.cos(twice);
      const w2Im = -Math.sin(twice);
      target[at] = w1Re;
      target[at + wide] = w1Im;
      target[at + 2 * wide] = w2Re;
      target[at + 3 * wide] = w2Im;
      target[at + 4 * wide] = w1Re * w2Re - w1Im * w2Im;
      target[at + 5 * wide] = w1Re * w2Im + w1Im * w2Re;
      // The second of two groups stands beside the first, which has left every other place free.
      at += wide === 2 ? (p % 2 === 0 ? 1 : 11) : 6;
    }
  }
}

/** Those of the split step from bin 1 on: two real parts, two imaginary ones. */
export function setSplits(target: Float64Array, size: number): void {
  for (let k = 1, at = 0; k < size / 4; k += 2, at += 4) {
    for (const lane of [0, 1]) {
      target[at + lane] = Math.cos((2 * Math.PI * (k + lane)) / size);
      target[at + 2 + lane] = -Math.sin((2 * Math.PI * (k + lane)) / size);
    }
  }
}
