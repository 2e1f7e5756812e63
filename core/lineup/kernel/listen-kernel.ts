/**
 * What a TakeListener does to every sample, in WebAssembly with 128-bit SIMD, double precision (assembly/ says what each does). Where SIMD is
 * missing, `loadListenKernel` gives undefined and the caller uses plain TypeScript.
 */
import { WasmModule } from '../../signal/wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`. */
export interface ListenKernel {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  slowDown(
    samples: number,
    count: number,
    lineEnd: number,
    at: number,
    last: number,
    taps: number,
    half: number,
    factor: number,
    output: number,
  ): number;
  addLevels(samples: number, count: number, sums: number): void;
  partPairs(pairs: number, count: number, firsts: number, seconds: number): void;
  /** To be called once, before all that follows but `findRises`; then the tables of taps, window, twiddles and splits are to be filled in. */
  begin(
    rateHz: number,
    tickSec: number,
    factor: number,
    half: number,
    frameSec: number,
    firstLine: number,
    lines: number,
    scale: number,
    zero: number,
  ): void;
  inputAt(): number;
  tapsAt(): number;
  windowAt(): number;
  twiddlesAt(): number;
  splitsAt(): number;
  levelsAt(): number;
  stepsAt(): number;
  countsAt(): number;
  peaksAt(): number;
  /** Takes up to 16384 samples from `inputAt`. At most 2048 ticks, and 64 frames, may still wait. */
  listen(count: number): void;
  ticksWaiting(): number;
  framesWaiting(): number;
  takeTicks(): void;
  takeFrames(): void;
  findRises(
    steps: number,
    frames: number,
    lines: number,
    levels: number,
    least: number,
    foundLines: number,
    foundSizes: number,
    ends: number,
  ): number;
  /** To be called once, before all that follows; then the tables of window, twiddles and splits are to be filled in. 0: no memory. */
  planFrames(size: number, firstBin: number, bins: number, mostFrames: number, mostHeard: number): number;
  heardAt(): number;
  frameWindowAt(): number;
  magnitudesAt(): number;
  quotientsAt(): number;
  quotientGroups(): number;
  hearFrames(side: number, hop: number, frames: number, scale: number): void;
  riseFrames(frames: number, gap: number, hold: number, low: number, middle: number, high: number): void;
  likeliestLags(
    samples: number,
    first: number,
    last: number,
    hop: number,
    block: number,
    least: number,
    most: number,
    nothing: number,
    sums: number,
    lags: number,
    squares: number,
  ): number;
}

const code = new WasmModule<ListenKernel>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadListenKernel(): ListenKernel | undefined {
  return code.instantiate();
}
