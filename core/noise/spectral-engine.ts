import { RealFft } from '../signal/fft.ts';
import { AHEAD_FRAMES, analysisWindow, CHUNK_FRAMES, type FramePlan, synthesisWindow } from './frame-plan.ts';
import { GainEstimator } from './gain-estimator.ts';
import { NoiseFollower } from './noise-follower.ts';
import type { NoiseProfile } from './profile.ts';
import type { CleanSettings } from './settings.ts';

/**
 * The heart of the cleaner: takes hops of samples and gives, CHUNK_FRAMES hops at a time, the cleaned ones. The first
 * chunk begins size - hop samples before the first sample that went in.
 */
export interface SpectralEngine {
  readonly plan: FramePlan;
  /** Takes `plan.hop` samples of `samples` from `offset` on. True when a chunk is finished: see `output`. */
  push(samples: Float32Array, offset: number): boolean;
  /** The finished chunk, CHUNK_FRAMES * hop samples, until the next `push`. */
  readonly output: Float32Array;
  /** startFrame: frame of the take that the next sample is. */
  reset(startFrame: number): void;
}

/** The engine in plain TypeScript, double precision: the oracle of the kernel, and its stand-in. */
export class PlainEngine implements SpectralEngine {
  readonly plan: FramePlan;
  readonly output: Float32Array;
  readonly #fft: RealFft;
  readonly #analysis: Float64Array;
  readonly #synthesis: Float64Array;
  readonly #history: Float64Array;
  readonly #work: Float64Array;
  readonly #sums: Float64Array;
  readonly #re: Float64Array[];
  readonly #im: Float64Array[];
  readonly #power: Float64Array[];
  readonly #gains: Float64Array[];
  readonly #estimator: GainEstimator;
  readonly #follower: NoiseFollower;
  #inverseNoise: Float64Array = new Float64Array(0);
  /** Frames waiting in #re, #im, #power. */
  #waiting = 0;

  constructor(plan: FramePlan, profile: NoiseProfile, settings: CleanSettings, startFrame: number) {
    this.plan = plan;
    const frames = CHUNK_FRAMES + AHEAD_FRAMES;
    const perBin = (count: number): Float64Array[] => Array.from({ length: count }, () => new Float64Array(plan.bins));
    this.output = new Float32Array(CHUNK_FRAMES * plan.hop);
    this.#fft = new RealFft(plan.size);
    this.#analysis = analysisWindow(plan);
    this.#synthesis = synthesisWindow(plan);
    this.#history = new Float64Array(plan.size);
    this.#work = new Float64Array(plan.size);
    this.#sums = new Float64Array(plan.size + (CHUNK_FRAMES - 1) * plan.hop);
    this.#re = perBin(frames);
    this.#im = perBin(frames);
    this.#power = perBin(frames);
    this.#gains = perBin(CHUNK_FRAMES);
    this.#estimator = new GainEstimator(plan, settings);
    this.#follower = new NoiseFollower(plan, profile, settings, startFrame);
  }

  reset(startFrame: number): void {
    this.#history.fill(0);
    this.#sums.fill(0);
    this.#waiting = 0;
    this.#estimator.reset();
    this.#follower.reset(startFrame);
  }

  push(samples: Float32Array, offset: number): boolean {
    const { size, hop } = this.plan;
    const history = this.#history;
    history.copyWithin(0, hop);
    for (let n = 0; n < hop; n++) history[size - hop + n] = samples[offset + n]!;
    this.#analyse(this.#waiting++);
    if (this.#waiting < CHUNK_FRAMES + AHEAD_FRAMES) return false;
    this.#inverseNoise = this.#follower.next() ?? this.#inverseNoise;
    this.#estimator.run(this.#power, this.#inverseNoise, this.#gains);
    for (let f = 0; f < CHUNK_FRAMES; f++) this.#synthesise(f);
    this.#giveOut();
    this.#turn();
    return true;
  }

  #analyse(slot: number): void {
    const { size, bins } = this.plan;
    const work = this.#work;
    for (let n = 0; n < size; n++) work[n] = this.#history[n]! * this.#analysis[n]!;
    const re = this.#re[slot]!;
    const im = this.#im[slot]!;
    const power = this.#power[slot]!;
    this.#fft.forward(work, re, im);
    for (let k = 0; k < bins; k++) power[k] = re[k]! * re[k]! + im[k]! * im[k]!;
  }

  #synthesise(slot: number): void {
    const { size, hop, bins } = this.plan;
    const re = this.#re[slot]!;
    const im = this.#im[slot]!;
    const gain = this.#gains[slot]!;
    for (let k = 0; k < bins; k++) {
      re[k]! *= gain[k]!;
      im[k]! *= gain[k]!;
    }
    const work = this.#work;
    this.#fft.inverse(re, im, work);
    const sums = this.#sums;
    const at = slot * hop;
    for (let n = 0; n < size; n++) sums[at + n]! += work[n]! * this.#synthesis[n]!;
  }

  #giveOut(): void {
    const done = this.output.length;
    const sums = this.#sums;
    for (let n = 0; n < done; n++) this.output[n] = sums[n]!;
    sums.copyWithin(0, done);
    sums.fill(0, sums.length - done);
  }

  /** The frames ahead become the first of the next chunk. */
  #turn(): void {
    for (const frames of [this.#re, this.#im, this.#power]) {
      for (let f = 0; f < CHUNK_FRAMES; f++) frames.push(frames.shift()!);
    }
    this.#waiting = AHEAD_FRAMES;
  }
}
