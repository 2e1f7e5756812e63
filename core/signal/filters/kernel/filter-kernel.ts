/**
 * Chains of biquads in WebAssembly with 128-bit SIMD, double precision (assembly/ says what it does). Where SIMD is missing,
 * `loadFilterKernel` gives undefined and the caller uses plain TypeScript.
 */
import { WasmModule } from '../../wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`. */
export interface FilterKernel {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  addToTwo(samples: number, count: number, pair: number, own: number): void;
  addToFour(samples: number, count: number, pairs: number, own: number): void;
  gather(samples: number, count: number, at: number, levels: number, tenths: number): number;
}

const code = new WasmModule<FilterKernel>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadFilterKernel(): FilterKernel | undefined {
  return code.instantiate();
}
