import { roomIn } from '../signal/kernel-room.ts';
import { type ListenKernel, loadListenKernel } from './kernel/listen-kernel.ts';

/** Which blocks of a sound are held against which of their past, in samples. */
export interface BlockPlan {
  /** Where the first block begins, from where on none does, and how far they lie apart. */
  readonly first: number;
  readonly last: number;
  readonly hop: number;
  /** How long each is: a multiple of four. */
  readonly block: number;
  readonly leastLag: number;
  /** At most `first` less 4. */
  readonly mostLag: number;
}

/**
 * For each block the lag at which it is most like what went before, and the square of the likeness (0 both where it is like nothing); of use until the
 * next asking.
 */
export interface BlockLags {
  readonly lags: Int32Array;
  readonly squares: Float64Array;
}

/** Energy a sample that counts as none. */
export const NOTHING = 1e-3;

/** engine: 'kernel' where it is to be had, in single precision; 'plain' is its oracle and its fallback. */
export function blockLags(samples: Float64Array, plan: BlockPlan, engine: 'kernel' | 'plain' = 'kernel'): BlockLags {
  if (engine === 'kernel') {
    made ??= KernelLags.load();
    if (made !== undefined) return made.find(samples, plan);
  }
  return plainLags(samples, plan);
}

let made: KernelLags | undefined;

function plainLags(samples: Float64Array, { first, last, hop, block, leastLag, mostLag }: BlockPlan): BlockLags {
  const count = Math.max(0, Math.ceil((last - first) / hop));
  const found = { lags: new Int32Array(count), squares: new Float64Array(count) };
  const energyAt = (from: number): number => productOf(samples, from, from, block) + NOTHING * block;
  for (let n = 0; n < count; n++) {
    const at = first + n * hop;
    let most = 0;
    for (let lag = leastLag; lag <= mostLag; lag++) {
      const sum = productOf(samples, at, at - lag, block);
      if (sum <= 0) continue;
      const square = (sum * sum) / energyAt(at - lag);
      if (square <= most) continue;
      most = square;
      found.lags[n] = lag;
    }
    found.squares[n] = most / energyAt(at);
  }
  return found;
}

/** The sum of the products of `count` samples with as many others. */
export function productOf(samples: Float64Array, one: number, other: number, count: number): number {
  let sum = 0;
  for (let n = 0; n < count; n++) sum += samples[one + n]! * samples[other + n]!;
  return sum;
}

class KernelLags {
  readonly #kernel: ListenKernel;
  #samples = { room: 0, at: 0 };
  #blocks = { room: 0, lagsAt: 0, squaresAt: 0 };
  #sums = { room: 0, at: 0 };

  constructor(kernel: ListenKernel) {
    this.#kernel = kernel;
  }

  static load(): KernelLags | undefined {
    const kernel = loadListenKernel();
    return kernel === undefined ? undefined : new KernelLags(kernel);
  }

  find(samples: Float64Array, { first, last, hop, block, leastLag, mostLag }: BlockPlan): BlockLags {
    const kernel = this.#kernel;
    const count = Math.max(0, Math.ceil((last - first) / hop));
    if (samples.length > this.#samples.room)
      this.#samples = { room: samples.length, at: roomIn(kernel, 4 * samples.length) };
    if (count > this.#blocks.room)
      this.#blocks = { room: count, lagsAt: roomIn(kernel, 4 * count), squaresAt: roomIn(kernel, 8 * count) };
    const lags = mostLag - leastLag + 4;
    if (lags > this.#sums.room) this.#sums = { room: lags, at: roomIn(kernel, 4 * lags) };
    const { at } = this.#samples;
    const { lagsAt, squaresAt } = this.#blocks;
    new Float32Array(kernel.memory.buffer, at, samples.length).set(samples);
    kernel.likeliestLags(at, first, last, hop, block, leastLag, mostLag, NOTHING, this.#sums.at, lagsAt, squaresAt);
    const { buffer } = kernel.memory;
    return { lags: new Int32Array(buffer, lagsAt, count), squares: new Float64Array(buffer, squaresAt, count) };
  }
}
