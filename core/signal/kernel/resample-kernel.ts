/**
 * The resampler's two stages in WebAssembly with 128-bit SIMD, single precision (assembly/ says what each does). Where
 * SIMD is missing, `loadResampleKernel` gives undefined and the caller uses plain TypeScript.
 */
import { decodeBase64 } from '../base64.ts';
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

interface WebAssemblyApi {
  validate(bytes: Uint8Array): boolean;
  readonly Module: new (bytes: Uint8Array) => object;
  readonly Instance: new (module: object, imports: object) => { readonly exports: unknown };
}

/** `undefined` until the first call; the code is compiled once for all instances of a thread. */
let compiled: object | undefined;

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadResampleKernel(): ResampleKernel | undefined {
  const api = (globalThis as { WebAssembly?: WebAssemblyApi }).WebAssembly;
  if (api === undefined) return undefined;
  if (compiled === undefined) {
    const bytes = decodeBase64(KERNEL_BASE64);
    if (!api.validate(bytes)) return undefined;
    compiled = new api.Module(bytes);
  }
  return new api.Instance(compiled, {}).exports as ResampleKernel;
}
