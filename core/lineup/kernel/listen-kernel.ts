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
  addFrame(re: number, im: number, lines: number, scale: number, zero: number, steps: number, counts: number): number;
}

const code = new WasmModule<ListenKernel>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadListenKernel(): ListenKernel | undefined {
  return code.instantiate();
}
