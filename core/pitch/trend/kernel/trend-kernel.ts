/**
 * Fits of planes to notes in WebAssembly with 128-bit SIMD, double precision (assembly/ says what each does). Where SIMD is missing there is no
 * kernel and the caller uses plain TypeScript.
 */
import { WasmModule } from '../../../signal/wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`. */
interface TrendExports {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  fitsAt(): number;
  equationsAt(): number;
  setEquations(
    first: number,
    second: number,
    cents: number,
    groups: number,
    count: number,
    without: number,
    without2: number,
    bound: number,
    least: number,
  ): void;
  fitBoth(
    first: number,
    second: number,
    cents: number,
    groups: number,
    count: number,
    without: number,
    without2: number,
    bound: number,
    least: number,
    used: number,
    turns: number,
  ): void;
  solveFirst(used: number): void;
}

/** The kernel and its room for notes: one a thread, up to four times 28 bytes a note of the longest row so far, since it grows by doubling. */
export class TrendKernel {
  readonly run: TrendExports;
  #room = { address: 0, notes: 0 };

  constructor(run: TrendExports) {
    this.run = run;
  }

  /** Where three numbers and a whole one for so many notes lie, row by row; what lay there before may be gone. */
  room(notes: number): number {
    if (notes > this.#room.notes) {
      // What was there before is not given back.
      const most = Math.max(notes, 2 * this.#room.notes);
      const address = this.run.allocate(28 * most);
      if (address === 0) throw new RangeError(`notes is ${notes}; allowed what the memory holds`);
      this.#room = { address, notes: most };
    }
    return this.#room.address;
  }

  doubles(address: number, count: number): Float64Array {
    return new Float64Array(this.run.memory.buffer, address, count);
  }

  whole(address: number, count: number): Int32Array {
    return new Int32Array(this.run.memory.buffer, address, count);
  }
}

const code = new WasmModule<TrendExports>(KERNEL_BASE64);
let made: TrendKernel | null | undefined;

/** The kernel of this thread; null where WebAssembly or its SIMD is not to be had. */
export function trendKernel(): TrendKernel | null {
  if (made === undefined) {
    const run = code.instantiate();
    made = run === undefined ? null : new TrendKernel(run);
  }
  return made;
}
