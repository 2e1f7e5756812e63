import { WasmModule } from '../../signal/wasm-module.ts';
import type { PeakEngine } from '../peak-engine.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** What assembly/index.ts exports. */
interface KernelExports {
  readonly memory: { readonly buffer: ArrayBuffer };
  search(inSpare: number, peak: number): number;
  lastSamplePeak(): number;
  figures(count: number, before: number): number;
}

/** Addresses in bytes and lengths in samples, as laid out in assembly/index.ts. */
const WORK = { at: 4096, length: 4160 };
const SPARE = { at: 20736, length: 4160 };
const FIGURES = { at: 88192, length: 4096 };

const code = new WasmModule<KernelExports>(KERNEL_BASE64);

/** The engine in WebAssembly with 128-bit SIMD, or undefined where that is not to be had. Memory 128 kB an instance. */
export function loadPeakKernel(): PeakEngine | undefined {
  const exports = code.instantiate();
  if (exports === undefined) return undefined;
  // The memory never grows, so these views stay good.
  const view = ({ at, length }: { at: number; length: number }) => new Float32Array(exports.memory.buffer, at, length);
  return {
    work: view(WORK),
    spare: view(SPARE),
    figures: view(FIGURES),
    search: (inSpare, peak) => exports.search(inSpare ? 1 : 0, peak),
    lastSamplePeak: () => exports.lastSamplePeak(),
    followFrames: (count, before) => exports.figures(count, before),
  };
}
