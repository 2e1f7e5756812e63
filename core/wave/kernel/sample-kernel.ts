import { WasmModule } from '../../signal/wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`. What each does stands in assembly/. */
export interface SampleKernel {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  from16(from: number, to: number, count: number): void;
  from24(from: number, to: number, count: number): void;
  extremes(from: number, count: number, to: number): void;
}

const code = new WasmModule<SampleKernel>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadSampleKernel(): SampleKernel | undefined {
  return code.instantiate();
}
