import type { KernelExports } from './kernel-exports.ts';

/** size: window N, a power of two from 512 to 16384. hop: samples, a multiple of 4, at most N. */
export interface StftShape {
  readonly size: number;
  readonly hop: number;
  /** Most frames a call may bring, 1 or more; default 1. */
  readonly callFrames?: number;
  /** Frames of spectra kept, more than aheadFrames; default the larger of aheadFrames + 1 and callFrames. */
  readonly ringFrames?: number;
  /** Frames the gain stage of `process` may look ahead; default 0. */
  readonly aheadFrames?: number;
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

/** Re, im, power and gain of one frame, N/2 + 1 bins each: views into the kernel's memory. */
export interface SpectrumView {
  readonly re: Float32Array<ArrayBuffer>;
  readonly im: Float32Array<ArrayBuffer>;
  readonly power: Float32Array<ArrayBuffer>;
  readonly gain: Float32Array<ArrayBuffer>;
}

/** One STFT in a Kernel. Properties that give arrays give views, valid until the kernel's next `plan` or `allocate`. */
export class StftPlan {
  readonly exports: KernelExports;
  /** First argument of the exports that work on a plan. */
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

  constructor(exports: KernelExports, address: number) {
    this.exports = exports;
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
    return new Int32Array(this.exports.memory.buffer, this.address, PLAN_FIELDS.length)[PLAN_FIELDS.indexOf(name)]!;
  }

  /** Where the new samples of the next call go: room for callFrames * hop, the first `frames * hop` count. */
  get input(): Float32Array<ArrayBuffer> {
    const history = this.size - this.hop;
    return this.#floats(this.field('input') + 4 * history, this.callFrames * this.hop);
  }

  /** Finished samples of the last `process` or `synthesise`, frames * hop of them, until the next such call. */
  get output(): Float32Array<ArrayBuffer> {
    return this.#floats(this.field('output'), this.field('shown'));
  }

  /** N factors for the analysis, to be written by the caller. */
  get analysisWindow(): Float32Array<ArrayBuffer> {
    return this.#floats(this.field('analysisWindow'), this.size);
  }

  /** N factors for the synthesis, with what makes the overlapped products sum to 1. */
  get synthesisWindow(): Float32Array<ArrayBuffer> {
    return this.#floats(this.field('synthesisWindow'), this.size);
  }

  /** Linear gains that the plain gain stage gives to every frame. */
  get gains(): Float32Array<ArrayBuffer> {
    return this.#floats(this.field('gains'), this.bins);
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
    return this.#floats(this.field('scratch'), this.size);
  }

  /** Analyses frames * hop samples of `input`. Needs room in the ring for all frames not yet synthesised. */
  analyse(frames: number): void {
    if (this.exports.analyse(this.address, frames) === 0) this.#refuse('analyse', frames);
  }

  /** Applies the gains in the slots of the next frames and adds them up; see `output`. */
  synthesise(frames: number): void {
    if (this.exports.synthesise(this.address, frames) === 0) this.#refuse('synthesise', frames);
  }

  /** Analysis, gain stage and synthesis in one call. Returns the frames synthesised; see `output`. */
  process(frames: number): number {
    const done = this.exports.process(this.address, frames);
    if (done < 0) this.#refuse('process', frames);
    return done;
  }

  /** Forgets history, sums and frame counts; windows and gains stay. */
  reset(): void {
    this.exports.reset(this.address);
  }

  /** scratch -> single, no window, not scaled. */
  forwardOnce(): void {
    this.exports.forwardOnce(this.address);
  }

  /** single, times its gains -> scratch, scaled by 1/N. Sets im of bins 0 and N/2 to 0. */
  inverseOnce(): void {
    this.exports.inverseOnce(this.address);
  }

  #floats(address: number, count: number): Float32Array<ArrayBuffer> {
    return new Float32Array(this.exports.memory.buffer, address, count);
  }

  #refuse(what: string, frames: number): never {
    throw new RangeError(
      `${what} of ${frames} frames; allowed 1 to ${this.callFrames} a call, and ${this.ringFrames} in the ring ` +
        `(${this.analysed} analysed, ${this.synthesised} synthesised)`,
    );
  }

  #slot(index: number): SpectrumView {
    const at = this.field('slots') + index * this.field('slotBytes');
    const part = (n: number): Float32Array<ArrayBuffer> => this.#floats(at + 4 * n * this.stride, this.bins);
    return { re: part(0), im: part(1), power: part(2), gain: part(3) };
  }
}
