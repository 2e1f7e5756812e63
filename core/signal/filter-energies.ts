import type { BiquadCoefficients } from './biquad.ts';
import { assertInRange } from './fault.ts';
import { type FilterKernel, loadFilterKernel } from './filters/kernel/filter-kernel.ts';
import { roomIn } from './kernel-room.ts';

/** Two biquads, one after the other. */
export type FilterChain = readonly [BiquadCoefficients, BiquadCoefficients];

/** Samples that the kernel is handed at once. */
const LONGEST = 16384;
const MOST_CHAINS = 4;
/** Numbers of two chains, one of each in turn: ten coefficients, four states, the energy. */
const PAIR = 30;
const STATES = 20;
const ENERGY = 28;
/** Of the samples as they come. */
const POWER = 60;
const PEAK = 61;
const NUMBERS = 62;
/** Below this a filter's state is noise far under any signal; left alone it would sink into slow denormal numbers. */
const STATE_FLOOR = 1e-30;

/**
 * Sums of squares of one channel behind up to four chains of biquads, and of the channel itself, for measures that need nothing else of what
 * is filtered. State and sums are double, the samples Float32Array, full scale 1. The result does not depend on how the input was cut.
 *
 * In the kernel where it is to be had, since a biquad waits for itself at every sample, and four chains wait together: measured 0.11 s of
 * CPU for 300 s at 48 kHz with three, against 0.45 s in plain TypeScript, which gives the same to the last bit.
 */
export class FilterEnergies {
  readonly #numbers: Float64Array;
  readonly #engine: Engine;

  /** chains: 1 to 4. */
  constructor(chains: readonly FilterChain[], engine: 'kernel' | 'plain' = 'kernel') {
    assertInRange('chains.length', chains.length, 1, MOST_CHAINS);
    const kernel = engine === 'kernel' ? loadFilterKernel() : undefined;
    this.#engine = kernel === undefined ? new PlainEngine(chains.length) : new KernelEngine(kernel, chains.length);
    this.#numbers = this.#engine.numbers;
    for (const [chain, stages] of chains.entries()) {
      const coefficients = stages.flatMap(({ b0, b1, b2, a1, a2 }) => [b0, b1, b2, a1, a2]);
      for (const [n, value] of coefficients.entries()) this.#numbers[firstOf(chain) + 2 * n] = value;
    }
  }

  /** Takes samples[from] up to, not including, samples[to]. */
  add(samples: Float32Array, from = 0, to = samples.length): void {
    for (let at = from; at < to; at += LONGEST) this.#engine.add(samples, at, Math.min(to, at + LONGEST));
  }

  /** Sum of squares behind a chain since the last call. */
  takeEnergy(chain: number): number {
    const numbers = this.#numbers;
    const first = firstOf(chain);
    const energy = numbers[first + ENERGY]!;
    numbers[first + ENERGY] = 0;
    for (let n = first + STATES; n < first + ENERGY; n += 2) if (Math.abs(numbers[n]!) < STATE_FLOOR) numbers[n] = 0;
    return energy;
  }

  /** Sum of squares of the samples themselves since the last call. */
  takePower(): number {
    const power = this.#numbers[POWER]!;
    this.#numbers[POWER] = 0;
    return power;
  }

  /** Greatest magnitude of a sample since the last call. */
  takePeak(): number {
    const peak = this.#numbers[PEAK]!;
    this.#numbers[PEAK] = 0;
    return peak;
  }

  /** Back to the state of a new one. */
  reset(): void {
    for (let pair = 0; pair < POWER; pair += PAIR) this.#numbers.fill(0, pair + STATES, pair + PAIR);
    this.#numbers.fill(0, POWER);
  }
}

/** Where the first number of a chain lies; every other one from there on is its own. */
function firstOf(chain: number): number {
  return PAIR * (chain >> 1) + (chain & 1);
}

interface Engine {
  readonly numbers: Float64Array;
  /** Takes samples[from] up to samples[to], LONGEST at most. */
  add(samples: Float32Array, from: number, to: number): void;
}

class KernelEngine implements Engine {
  readonly numbers: Float64Array;
  readonly #kernel: FilterKernel;
  readonly #samples: Float32Array;
  readonly #isTwo: boolean;

  constructor(kernel: FilterKernel, chains: number) {
    this.#kernel = kernel;
    this.#isTwo = chains <= 2;
    const samplesAt = roomIn(kernel, 4 * LONGEST);
    const numbersAt = roomIn(kernel, 8 * NUMBERS);
    this.#samples = new Float32Array(kernel.memory.buffer, samplesAt, LONGEST);
    this.numbers = new Float64Array(kernel.memory.buffer, numbersAt, NUMBERS);
  }

  add(samples: Float32Array, from: number, to: number): void {
    this.#samples.set(from === 0 && to === samples.length ? samples : samples.subarray(from, to));
    const pairs = this.numbers.byteOffset;
    const own = pairs + 8 * POWER;
    if (this.#isTwo) this.#kernel.addToTwo(this.#samples.byteOffset, to - from, pairs, own);
    else this.#kernel.addToFour(this.#samples.byteOffset, to - from, pairs, own);
  }
}

class PlainEngine implements Engine {
  readonly numbers = new Float64Array(NUMBERS);
  readonly #chains: number;

  constructor(chains: number) {
    this.#chains = chains;
  }

  add(samples: Float32Array, from: number, to: number): void {
    let power = this.numbers[POWER]!;
    let peak = this.numbers[PEAK]!;
    for (let n = from; n < to; n++) {
      const x = samples[n]!;
      power += x * x;
      const magnitude = Math.abs(x);
      if (magnitude > peak) peak = magnitude;
    }
    this.numbers[POWER] = power;
    this.numbers[PEAK] = peak;
    for (let chain = 0; chain < this.#chains; chain++) this.#filter(firstOf(chain), samples, from, to);
  }

  #filter(first: number, samples: Float32Array, from: number, to: number): void {
    const numbers = this.numbers;
    const b0 = numbers[first]!;
    const b1 = numbers[first + 2]!;
    const b2 = numbers[first + 4]!;
    const a1 = numbers[first + 6]!;
    const a2 = numbers[first + 8]!;
    const d0 = numbers[first + 10]!;
    const d1 = numbers[first + 12]!;
    const d2 = numbers[first + 14]!;
    const c1 = numbers[first + 16]!;
    const c2 = numbers[first + 18]!;
    const states = first + STATES;
    let s1 = numbers[states]!;
    let s2 = numbers[states + 2]!;
    let r1 = numbers[states + 4]!;
    let r2 = numbers[states + 6]!;
    let energy = numbers[first + ENERGY]!;
    for (let n = from; n < to; n++) {
      const x = samples[n]!;
      const y = b0 * x + s1;
      s1 = b1 * x + s2 - a1 * y;
      s2 = b2 * x - a2 * y;
      const z = d0 * y + r1;
      r1 = d1 * y + r2 - c1 * z;
      r2 = d2 * y - c2 * z;
      energy += z * z;
    }
    numbers[states] = s1;
    numbers[states + 2] = s2;
    numbers[states + 4] = r1;
    numbers[states + 6] = r2;
    numbers[first + ENERGY] = energy;
  }
}
