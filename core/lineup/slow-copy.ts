import { roomIn } from '../signal/kernel-room.ts';
import { symmetricSum } from '../signal/side-sums.ts';
import { type ListenKernel, loadListenKernel } from './kernel/listen-kernel.ts';

/** Most frames handed over at once. */
export const CHUNK = 4096;

/**
 * Turns a stream into one of about `targetHz`, for measures that need only its low notes.
 *
 * The factor is a whole number, so that the cost is one folded symmetric filter an output sample (windowed sinc,
 * Hamming, four output periods long: some 30 dB down where it would fold below a quarter of the target rate).
 * Time zero is kept: output sample n belongs to input time n * factor / rateHz.
 */
export class SlowCopy {
  /** Whole input frames an output sample. */
  readonly factor: number;
  /** Exact output rate, Hz. */
  readonly rateHz: number;
  readonly #half: number;
  readonly #line: SlowLine;
  #filled: number;
  #next: number;

  /**
   * sourceHz: rate of the stream, 4000 to 400000; targetHz: wanted rate, 1000 to 16000. engine: 'kernel' where it is to be had; 'plain'
   * gives the same to the last bit.
   */
  constructor(sourceHz: number, targetHz: number, engine: 'kernel' | 'plain' = 'kernel') {
    this.factor = slowFactor(sourceHz, targetHz);
    this.rateHz = sourceHz / this.factor;
    const taps = slowTaps(this.factor);
    const half = taps.length - 1;
    this.#half = half;
    const kernel = engine === 'kernel' ? loadListenKernel() : undefined;
    this.#line = kernel === undefined ? new PlainLine(taps, this.factor) : new KernelLine(kernel, taps, this.factor);
    // The line starts with `half` frames of silence before time zero.
    this.#filled = half;
    this.#next = half;
  }

  /** As new: whoever makes many short copies keeps one, since each has a kernel of its own. */
  reset(): void {
    this.#line.doubles.fill(0, 0, this.#half);
    this.#filled = this.#half;
    this.#next = this.#half;
  }

  /** Takes up to CHUNK frames and writes the finished samples to `output` from 0 on; gives how many. */
  add(input: Float32Array, output: Float64Array): number {
    const from = this.#filled;
    this.#filled += input.length;
    const count = this.#line.add(input, from, this.#next, this.#filled - this.#half, output);
    const at = this.#next + count * this.factor;
    const keepFrom = Math.min(at - this.#half, this.#filled);
    this.#line.doubles.copyWithin(0, keepFrom, this.#filled);
    this.#filled -= keepFrom;
    this.#next = at - keepFrom;
    return count;
  }
}

/** Whole input frames an output sample. */
export function slowFactor(sourceHz: number, targetHz: number): number {
  return Math.max(1, Math.round(sourceHz / targetHz));
}

/** taps[0] weighs the frame in the middle, taps[n] those n before and after it; together they weigh 1. */
export function slowTaps(factor: number): Float64Array {
  const half = factor === 1 ? 0 : 2 * factor;
  const taps = new Float64Array(half + 1);
  let sum = 0;
  for (let n = 0; n <= half; n++) {
    const phase = (Math.PI * n) / factor;
    const sinc = n === 0 ? 1 : Math.sin(phase) / phase;
    const window = half === 0 ? 1 : 0.54 + 0.46 * Math.cos((Math.PI * n) / (half + 1));
    taps[n] = sinc * window;
    sum += sinc * window * (n === 0 ? 1 : 2);
  }
  for (let n = 0; n <= half; n++) taps[n] = taps[n]! / sum;
  return taps;
}

/** The frames that are still needed, and the sums over them. */
interface SlowLine {
  readonly doubles: Float64Array;
  /** Puts the input behind `filled`, and writes the sums around every `factor`th frame of the line from `at` to before `last`. */
  add(input: Float32Array, filled: number, at: number, last: number, output: Float64Array): number;
}

function lineLength(half: number, factor: number): number {
  return 2 * half + factor + CHUNK;
}

class PlainLine implements SlowLine {
  readonly doubles: Float64Array;
  readonly #taps: Float64Array;
  readonly #factor: number;

  constructor(taps: Float64Array, factor: number) {
    this.#taps = taps;
    this.#factor = factor;
    this.doubles = new Float64Array(lineLength(taps.length - 1, factor));
  }

  add(input: Float32Array, filled: number, at: number, last: number, output: Float64Array): number {
    const line = this.doubles;
    for (let n = 0; n < input.length; n++) line[filled + n] = input[n]!;
    const taps = this.#taps;
    const half = taps.length - 1;
    let count = 0;
    for (let middle = at; middle < last; middle += this.#factor)
      output[count++] = symmetricSum(taps, line, middle, half);
    return count;
  }
}

class KernelLine implements SlowLine {
  readonly doubles: Float64Array;
  readonly #kernel: ListenKernel;
  readonly #half: number;
  readonly #factor: number;
  readonly #input: Float32Array;
  readonly #output: Float64Array;
  readonly #taps: Float64Array;

  constructor(kernel: ListenKernel, taps: Float64Array, factor: number) {
    this.#kernel = kernel;
    this.#half = taps.length - 1;
    this.#factor = factor;
    // The kernel widens four numbers at a time.
    const inputAt = roomIn(kernel, 4 * (CHUNK + 4));
    const lineFrames = lineLength(this.#half, factor) + 4;
    const lineAt = roomIn(kernel, 8 * lineFrames);
    const outputAt = roomIn(kernel, 8 * CHUNK);
    const tapsAt = roomIn(kernel, 8 * taps.length);
    const { buffer } = kernel.memory;
    this.#input = new Float32Array(buffer, inputAt, CHUNK);
    this.doubles = new Float64Array(buffer, lineAt, lineFrames);
    this.#output = new Float64Array(buffer, outputAt, CHUNK);
    this.#taps = new Float64Array(buffer, tapsAt, taps.length);
    this.#taps.set(taps);
  }

  add(input: Float32Array, filled: number, at: number, last: number, output: Float64Array): number {
    this.#input.set(input);
    const line = this.doubles.byteOffset;
    const count = this.#kernel.slowDown(
      this.#input.byteOffset,
      input.length,
      line + 8 * filled,
      line + 8 * at,
      line + 8 * last,
      this.#taps.byteOffset,
      this.#half,
      this.#factor,
      this.#output.byteOffset,
    );
    output.set(count === CHUNK ? this.#output : this.#output.subarray(0, count));
    return count;
  }
}
