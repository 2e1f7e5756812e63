/**
 * The resampler's two stages in WebAssembly with 128-bit SIMD, single precision (assembly/ says what each does). Where
 * SIMD is missing, `loadResampleKernel` gives undefined and the caller uses plain TypeScript.
 */
import { WasmModule } from '../wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`. */
export interface ResampleKernel {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  doubleRate(x: number, doubled: number, frames: number, half: number, length: number): void;
  interpolate(
    doubled: number,
    base: number,
    table: number,
    phases: number,
    start: number,
    step: number,
    first: number,
    output: number,
    count: number,
  ): void;
}

const code = new WasmModule<ResampleKernel>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadResampleKernel(): ResampleKernel | undefined {
  return code.instantiate();
}
