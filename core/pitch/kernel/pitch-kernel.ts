/**
 * What follows a pitch, its ear, and what finds where notes may begin, in WebAssembly with 128-bit SIMD (assembly/ says what each does). Where
 * SIMD is missing, `loadPitchKernel` gives undefined and the caller uses plain TypeScript.
 */
import { WasmModule } from '../../signal/wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** What assembly/index.ts exports; addresses are bytes in `memory`. An instance serves one take. */
export interface PitchKernel {
  readonly memory: { readonly buffer: ArrayBuffer };
  /** To be called before `plan`, once, where `follow` is to be used; gives the address of a table, 0 when there is not enough memory. */
  prepare(
    workHz: number,
    stepFrames: number,
    aheadFrames: number,
    heardFrames: number,
    firstHeard: number,
    slowSize: number,
    slowFrames: number,
    mostSlow: number,
  ): number;
  /** Least length of the ear's row for `follow`. */
  heardNeeded(stepFrames: number, aheadFrames: number): number;
  /** Lays out an instance that finds where notes may begin; gives the address of a table, 0 when there is not enough memory. */
  planBegins(steps: number, frames: number): number;
  /** To be called once; gives how many places it found. */
  findBegins(stepSec: number, firstSec: number, hopSec: number, samplesHz: number): number;
  follow(count: number): void;
  followEnd(): void;
  /** To be called once; gives the address of a table of addresses, 0 when there is not enough memory. */
  plan(
    step: number,
    halfTaps: number,
    slowHalfTaps: number,
    stepFrames: number,
    heardFrames: number,
    firstHeard: number,
    slowFrames: number,
    firstSlow: number,
    shortestLag: number,
    longestLag: number,
  ): number;
  steps(): number;
  slowCount(): number;
  add(count: number): number;
  flush(): number;
  rest(count: number, isCounted: number): number;
  forget(count: number): void;
  forgetSlow(count: number): void;
  lookAt(begin: number, place: number): number;
  dipCount(): number;
}

const code = new WasmModule<PitchKernel>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadPitchKernel(): PitchKernel | undefined {
  return code.instantiate();
}
