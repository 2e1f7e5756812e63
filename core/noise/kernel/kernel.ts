/**
 * STFT engine in WebAssembly with 128-bit SIMD, single precision: window, real FFT, gains, inverse and overlap-add in one
 * call a block. Where SIMD is missing, `loadKernel` gives undefined and callers use plain TypeScript (core/signal/fft.ts).
 *
 * ## Memory
 * `kernel.plan(...)` lays out everything once; nothing is allocated later and nothing is given back (drop the Kernel).
 * A plan has
 * - input: N - hop samples of history, then the new samples of the next call (`input` is the latter part);
 * - output: finished samples at its head (`output`), behind them N - hop samples of sums that are not yet complete;
 * - a ring of `ringFrames` slots, frame f in slot f % ringFrames. A slot is four arrays of `stride` floats: re, im,
 *   power (re^2 + im^2, written by the analysis) and gain (linear, read by the synthesis). stride = N/2 + 4: the N/2 + 1
 *   bins and three zeros, so that loops run over stride / 4 whole vectors without a rest;
 * - one slot more, for single transforms, and `gains`, which the plain gain stage copies into every frame.
 * Frame f covers the samples f * hop - (N - hop) ... f * hop + hop - 1 of the stream, zero before its start. The
 * synthesis of frame f completes the hop of samples that begins at f * hop - (N - hop). So all outputs put
 * together begin N - hop samples before the stream (`leadSamples`, to be dropped), and with look-ahead the last
 * aheadFrames * hop samples come later still (`latencySamples` in all): to flush, feed that many zeros.
 *
 * ## Adding a gain stage
 * 1. assembly/gain.ts: `gain(plan, frame)` is called for each frame between its analysis and its synthesis, when the
 *    spectra of `aheadFrames` later frames are already there. Read powerOf(plan, slotOf(plan, frame + 1)) and the like,
 *    fill gainOf(plan, slotOf(plan, frame)). Earlier frames stay in the ring as well: ringFrames - aheadFrames - 1 of them.
 *    assembly/vector.ts has log2, exp2 and lane sums, to be inlined; assembly/sums.ts whole-array forms.
 * 2. State per bin (noise power, prior SNR) that outlives a frame: `allocate(plan.stride << 2)` in an exported function
 *    of the assembly that returns an @unmanaged record of addresses, or `kernel.allocate(floats)` here, handing the
 *    address in. Read and write it with `kernel.floats(address, count)`.
 * 3. A rule that runs over a block in both directions of time: `analyse(frames)`, an own export over the slots,
 *    `synthesise(frames)`.
 * 4. Export new entry points in assembly/index.ts, add them to kernel-exports.ts, run `npm run kernel`, and commit
 *    kernel.wasm.ts with it (a test compares the bytes). Fields added to Plan go at its end, and into PLAN_FIELDS of
 *    stft-plan.ts.
 * Keep gains at or above some -80 dB and powers above some floor: denormal numbers make every operation slow.
 */
import { WasmModule } from '../../signal/wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';
import type { KernelExports } from './kernel-exports.ts';
import { StftPlan, type StftShape } from './stft-plan.ts';

const code = new WasmModule<KernelExports>(KERNEL_BASE64);

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadKernel(): Kernel | undefined {
  const exports = code.instantiate();
  return exports === undefined ? undefined : new Kernel(exports);
}

/** One WebAssembly instance. Not to be shared between threads. */
export class Kernel {
  readonly exports: KernelExports;

  constructor(exports: KernelExports) {
    this.exports = exports;
  }

  /** Address of `count` zeros, on 64 bytes. Grows the memory: views taken before may be dead after it. */
  allocate(count: number): number {
    return this.exports.allocate(4 * count);
  }

  /** The floats at an address. Valid until the next `allocate` or `plan`. */
  floats(address: number, count: number): Float32Array<ArrayBuffer> {
    return new Float32Array(this.exports.memory.buffer, address, count);
  }

  /** Lays out an STFT. Windows and gains start as ones. */
  plan(shape: StftShape): StftPlan {
    const aheadFrames = shape.aheadFrames ?? 0;
    const callFrames = shape.callFrames ?? 1;
    const ringFrames = shape.ringFrames ?? Math.max(callFrames, aheadFrames + 1);
    const address = this.exports.plan(shape.size, shape.hop, callFrames, ringFrames, aheadFrames);
    if (address === 0) {
      throw new RangeError(
        `size ${shape.size}, hop ${shape.hop}, callFrames ${callFrames}, ringFrames ${ringFrames}, aheadFrames ` +
          `${aheadFrames}; allowed: size a power of two from 512 to 16384, hop a multiple of 4 from 4 to size, ` +
          'callFrames from 1, ringFrames more than aheadFrames, all below 1 GiB',
      );
    }
    return new StftPlan(this.exports, address);
  }
}
