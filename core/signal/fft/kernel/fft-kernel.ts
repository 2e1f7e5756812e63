/**
 * The real transform in WebAssembly with 128-bit SIMD, double precision (assembly/ says what it does). Where SIMD is missing,
 * `loadFftKernel` gives undefined and the caller uses plain TypeScript.
 */
import { WasmModule } from '../../wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`. An instance serves one size. */
export interface FftKernel {
  readonly memory: { readonly buffer: ArrayBuffer };
  /** To be called first, once; 0 when there is not enough memory. */
  plan(size: number): number;
  samplesAt(): number;
  spectrumAt(): number;
  twiddlesAt(): number;
  splitsAt(): number;
  forward(): void;
  inverse(): void;
}

const code = new WasmModule<FftKernel>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadFftKernel(): FftKernel | undefined {
  return code.instantiate();
}
