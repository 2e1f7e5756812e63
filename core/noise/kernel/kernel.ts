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
 * 4. Export new entry points in assembly/index.ts, add them to `KernelExports` below, run `npm run kernel`, and commit
 *    kernel.wasm.ts with it (a test compares the bytes). Fields added to Plan go at its end, and into PLAN_FIELDS.
 * Keep gains at or above some -80 dB and powers above some floor: denormal numbers make every operation slow.
 */
import { decodeBase64 } from './decode-base64.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`; counts of floats are multiples of 4. What each does stands in assembly/. */
export interface KernelExports {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  plan(size: number, hop: number, callFrames: number, ringFrames: number, aheadFrames: number): number;
  analyse(plan: number, frames: number): number;
  synthesise(plan: number, frames: number): number;
  process(plan: number, frames: number): number;
  reset(plan: number): void;
  forwardOnce(plan: number): void;
  inverseOnce(plan: number): void;
  sum(x: number, count: number): number;
  dot(x: number, y: number, count: number): number;
  largest(x: number, count: number): number;
  log2Array(x: number, y: number, count: number): void;
  exp2Array(x: number, y: number, count: number): void;
}

interface WebAssemblyApi {
  validate(bytes: Uint8Array): boolean;
  readonly Module: new (bytes: Uint8Array) => object;
  readonly Instance: new (module: object, imports: object) => { readonly exports: unknown };
}

/** Fields of `Plan` in assembly/plan.ts, in order, 4 bytes each. */
const PLAN_FIELDS = [
  'size',
  'hop',
  'bins',
  'stride',
  'callFrames',
  'ringFrames',
  'aheadFrames',
  'analysed',
  'synthesised',
  'shown',
  'input',
  'output',
  'analysisWindow',
  'synthesisWindow',
  'slots',
  'slotBytes',
  'ones',
  'scratch',
  'workA',
  'workB',
  'plane',
  'firstTwiddles',
  'stageTwiddles',
  'splitTwiddles',
  'gains',
] as const;
type PlanField = (typeof PLAN_FIELDS)[number];

/** `undefined` until the first call; the code is compiled once for all instances of a thread. */
let compiled: object | undefined;

/** A new instance with memory of its own, or undefined where WebAssembly or its SIMD is not to be had. */
export function loadKernel(): Kernel | undefined {
  const api = (globalThis as { WebAssembly?: WebAssemblyApi }).WebAssembly;
  if (api === undefined) return undefined;
  if (compiled === undefined) {
    const bytes = decodeBase64(KERNEL_BASE64);
    if (!api.validate(bytes)) return undefined;
    compiled = new api.Module(bytes);
  }
  return new Kernel(new api.Instance(compiled, {}).exports as KernelExports);
}

/** size: window N, a power of two from 512 to 16384. hop: samples, a multiple of 4, at most N. */
export interface StftShape {
  readonly size: number;
  readonly hop: number;
  /** Most frames a call may bring, 1 or more; default 1. */
  readonly callFrames?: number;
  /** Frames of spectra kept, more than aheadFrames; default aheadFrames + 1, and at least callFrames. */
  readonly ringFrames?: number;
  /** Frames the gain stage of `process` may look ahead; default 0. */
  readonly aheadFrames?: number;
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
          'callFrames from 1, ringFrames more than aheadFrames',
      );
    }
    return new StftPlan(this, address);
  }
}

/** Re, im, power and gain of one frame, N/2 + 1 bins each: views into the kernel's memory. */
export interface SpectrumView {
  readonly re: Float32Array<ArrayBuffer>;
  readonly im: Float32Array<ArrayBuffer>;
  readonly power: Float32Array<ArrayBuffer>;
  readonly gain: Float32Array<ArrayBuffer>;
}

/** One STFT in a Kernel. Properties that give arrays give views, valid until the kernel's next `plan` or `allocate`. */
export class StftPlan {
  readonly kernel: Kernel;
  /** For the exports of the kernel. */
  readonly address: number;
  readonly size: number;
  readonly hop: number;
  /** N/2 + 1. */
  readonly bins: number;
  /** Floats from one per-bin array to the next. */
  readonly stride: number;
  readonly callFrames: number;
  readonly ringFrames: number;
  readonly aheadFrames: number;
  /** Samples at the very start of the output that lie before the first input sample: N - hop. */
  readonly leadSamples: number;
  /** Samples by which the output lags the input: N - hop + aheadFrames * hop. */
  readonly latencySamples: number;

  constructor(kernel: Kernel, address: number) {
    this.kernel = kernel;
    this.address = address;
    this.size = this.field('size');
    this.hop = this.field('hop');
    this.bins = this.field('bins');
    this.stride = this.field('stride');
    this.callFrames = this.field('callFrames');
    this.ringFrames = this.field('ringFrames');
    this.aheadFrames = this.field('aheadFrames');
    this.leadSamples = this.size - this.hop;
    this.latencySamples = this.leadSamples + this.aheadFrames * this.hop;
  }

  /** A number or address of the plan's record. */
  field(name: PlanField): number {
    return new Int32Array(this.kernel.exports.memory.buffer, this.address, PLAN_FIELDS.length)[
      PLAN_FIELDS.indexOf(name)
    ]!;
  }

  /** Where the new samples of the next call go: room for callFrames * hop, the first `frames * hop` count. */
  get input(): Float32Array<ArrayBuffer> {
    const history = this.size - this.hop;
    return this.kernel.floats(this.field('input') + 4 * history, this.callFrames * this.hop);
  }

  /** Finished samples of the last `process` or `synthesise`, frames * hop of them, until the next such call. */
  get output(): Float32Array<ArrayBuffer> {
    return this.kernel.floats(this.field('output'), this.field('shown'));
  }

  /** N factors for the analysis, to be written by the caller. */
  get analysisWindow(): Float32Array<ArrayBuffer> {
    return this.kernel.floats(this.field('analysisWindow'), this.size);
  }

  /** N factors for the synthesis, with what makes the overlapped products sum to 1. */
  get synthesisWindow(): Float32Array<ArrayBuffer> {
    return this.kernel.floats(this.field('synthesisWindow'), this.size);
  }

  /** Linear gains that the plain gain stage gives to every frame. */
  get gains(): Float32Array<ArrayBuffer> {
    return this.kernel.floats(this.field('gains'), this.bins);
  }

  /** Frames analysed since the start. */
  get analysed(): number {
    return this.field('analysed');
  }

  /** Frames synthesised since the start. */
  get synthesised(): number {
    return this.field('synthesised');
  }

  /** The kept spectrum of a frame; frames are counted from 0, the last ringFrames ones are kept. */
  spectrum(frame: number): SpectrumView {
    const newest = this.analysed - 1;
    if (frame < 0 || frame > newest || frame <= newest - this.ringFrames) {
      throw new RangeError(`frame is ${frame}; kept are the last ${this.ringFrames} up to ${newest}`);
    }
    return this.#slot(frame % this.ringFrames);
  }

  /** The slot of single transforms. */
  get single(): SpectrumView {
    return this.#slot(this.ringFrames);
  }

  /** N samples: input of `forwardOnce`, output of `inverseOnce`. */
  get scratch(): Float32Array<ArrayBuffer> {
    return this.kernel.floats(this.field('scratch'), this.size);
  }

  /** Analyses frames * hop samples of `input`. Needs room in the ring for all frames not yet synthesised. */
  analyse(frames: number): void {
    if (this.kernel.exports.analyse(this.address, frames) === 0) this.#refuse('analyse', frames);
  }

  /** Applies the gains in the slots of the next frames and adds them up; see `output`. */
  synthesise(frames: number): void {
    if (this.kernel.exports.synthesise(this.address, frames) === 0) this.#refuse('synthesise', frames);
  }

  /** Analysis, gain stage and synthesis in one call. Returns the frames synthesised; see `output`. */
  process(frames: number): number {
    const done = this.kernel.exports.process(this.address, frames);
    if (done < 0) this.#refuse('process', frames);
    return done;
  }

  /** Forgets history, sums and frame counts; windows and gains stay. */
  reset(): void {
    this.kernel.exports.reset(this.address);
  }

  /** scratch -> single, no window, not scaled. */
  forwardOnce(): void {
    this.kernel.exports.forwardOnce(this.address);
  }

  /** single, times its gains -> scratch, scaled by 1/N. Sets im of bins 0 and N/2 to 0. */
  inverseOnce(): void {
    this.kernel.exports.inverseOnce(this.address);
  }

  #refuse(what: string, frames: number): never {
    throw new RangeError(
      `${what} of ${frames} frames; allowed 1 to ${this.callFrames} a call, and ${this.ringFrames} in the ring ` +
        `(${this.analysed} analysed, ${this.synthesised} synthesised)`,
    );
  }

  #slot(index: number): SpectrumView {
    const at = this.field('slots') + index * this.field('slotBytes');
    const part = (n: number): Float32Array<ArrayBuffer> => this.kernel.floats(at + 4 * n * this.stride, this.bins);
    return { re: part(0), im: part(1), power: part(2), gain: part(3) };
  }
}
