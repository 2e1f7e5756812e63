import { RealFft } from '../signal/fft.ts';
import type { ClipFacts } from './clip-facts.ts';
import { analysisWindow, type FramePlan, framePlan } from './frame-plan.ts';
import type { Stretch } from './learn.ts';
import { type NoiseProfile, noisePowerAt } from './profile.ts';

/** What cleaning did to a take. */
export interface CleaningReport {
  /** Level of the noise before, in the silences, dBFS (a full-scale sine is 0). */
  readonly levelDbfs: number;
  /** How far it went down there, dB. Infinity when nothing is left. */
  readonly reducedDb: number;
  /**
   * Music taken away with the noise: power of what was taken above what noise explains, over the music's power, dB.
   * Below -30 it is not heard; -Infinity when there was none.
   */
  readonly harmDb: number;
  /**
   * Musical noise: kurtosis of the power spectra in the silences after, over that before. 1 is none. Source: Uemura et
   * al. 2008 (raw moments of the power, all bins above 50 Hz together). NaN without a silence.
   */
  readonly kurtosisRatio: number;
}

/** Between two looks at the music, seconds. */
const LOOK_EVERY_SEC = 0.7;
/** Noise passes this many times its mean power in one bin of 400. */
const BEYOND_NOISE = 6;

/**
 * Measures what cleaning does, from blocks of before and after in step (as `Cleaner` gives them: before is cleaned plus
 * removed). Looks at every window in the silences and at one every 0.7 s elsewhere. Memory: some windows.
 */
export class CleaningMeasure {
  readonly #plan: FramePlan;
  readonly #profile: NoiseProfile;
  readonly #silences: readonly Stretch[];
  readonly #clip: ClipFacts | null;
  readonly #fft: RealFft;
  readonly #window: Float64Array;
  readonly #before: Float64Array;
  readonly #removed: Float64Array;
  readonly #work: Float64Array;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  readonly #powers: Float64Array[];
  readonly #noise: Float64Array;
  readonly #lookEvery: number;
  /** Frame of the take where the window being filled begins, and how much of it is there. */
  #windowFrom: number;
  #filled = 0;
  #position: number;
  #powerBefore = 0;
  #powerAfter = 0;
  #frames = 0;
  readonly #before24 = new Float64Array(2);
  readonly #after24 = new Float64Array(2);
  #music = 0;
  #harm = 0;

  /** silences: those of the take; startFrame: frame of the take of the first block. */
  constructor(profile: NoiseProfile, silences: readonly Stretch[], clip: ClipFacts | null = null, startFrame = 0) {
    const plan = framePlan(profile.rateHz);
    this.#plan = plan;
    this.#profile = profile;
    this.#silences = silences;
    this.#clip = clip;
    this.#fft = new RealFft(plan.size);
    this.#window = analysisWindow(plan);
    this.#before = new Float64Array(plan.size);
    this.#removed = new Float64Array(plan.size);
    this.#work = new Float64Array(plan.size);
    this.#re = new Float64Array(plan.bins);
    this.#im = new Float64Array(plan.bins);
    this.#powers = [new Float64Array(plan.bins), new Float64Array(plan.bins)];
    this.#noise = new Float64Array(plan.bins);
    this.#lookEvery = Math.round(LOOK_EVERY_SEC * plan.rateHz);
    this.#position = startFrame;
    this.#windowFrom = this.#nextWindow(startFrame);
  }

  /** cleaned and removed: of one length, in step. */
  add(cleaned: Float32Array, removed: Float32Array): void {
    const size = this.#plan.size;
    let n = 0;
    while (n < cleaned.length) {
      const skip = this.#windowFrom + this.#filled - (this.#position + n);
      if (skip > 0) {
        n += skip;
        continue;
      }
      const count = Math.min(size - this.#filled, cleaned.length - n);
      for (let i = 0; i < count; i++) {
        const taken = removed[n + i]!;
        this.#removed[this.#filled + i] = taken;
        this.#before[this.#filled + i] = cleaned[n + i]! + taken;
      }
      this.#filled += count;
      n += count;
      if (this.#filled === size) {
        this.#look();
        this.#filled = 0;
        this.#windowFrom = this.#nextWindow(this.#windowFrom + size);
      }
    }
    this.#position += cleaned.length;
  }

  result(): CleaningReport {
    const kurtosis = (moments: Float64Array): number => (moments[1]! * this.#frames) / (moments[0]! * moments[0]!);
    return {
      levelDbfs: 10 * Math.log10((2 * this.#powerBefore) / Math.max(1, this.#frames)),
      reducedDb: 10 * Math.log10(this.#powerBefore / this.#powerAfter),
      harmDb: this.#music > 0 ? 10 * Math.log10(this.#harm / this.#music) : Number.NEGATIVE_INFINITY,
      kurtosisRatio: kurtosis(this.#after24) / kurtosis(this.#before24),
    };
  }

  /** Where the next window at or behind a frame begins: at once within a silence, else some way on. */
  #nextWindow(frame: number): number {
    const size = this.#plan.size;
    let next = Math.ceil(frame / this.#lookEvery) * this.#lookEvery;
    for (const { fromFrame, toFrame } of this.#silences) {
      const from = Math.max(frame, fromFrame);
      if (from + size <= toFrame) next = Math.min(next, from);
    }
    return next;
  }

  #look(): void {
    const from = this.#windowFrom;
    const to = from + this.#plan.size;
    const silent = this.#silences.some(({ fromFrame, toFrame }) => from >= fromFrame && to <= toFrame);
    if (silent) this.#lookAtSilence();
    else this.#lookAtMusic(from);
  }

  #lookAtSilence(): void {
    const { size } = this.#plan;
    const before = this.#before;
    const removed = this.#removed;
    let powerBefore = 0;
    let powerAfter = 0;
    for (let n = 0; n < size; n++) {
      const after = before[n]! - removed[n]!;
      powerBefore += before[n]! * before[n]!;
      powerAfter += after * after;
      removed[n] = after;
    }
    this.#powerBefore += powerBefore / size;
    this.#powerAfter += powerAfter / size;
    this.#frames++;
    this.#addMoments(before, this.#before24);
    this.#addMoments(removed, this.#after24);
  }

  #addMoments(samples: Float64Array, moments: Float64Array): void {
    const power = this.#powers[0]!;
    this.#transform(samples, power);
    const lowest = Math.ceil((50 * this.#plan.size) / this.#plan.rateHz);
    let second = 0;
    let fourth = 0;
    for (let k = lowest; k < power.length; k++) {
      const square = power[k]! * power[k]!;
      second += square;
      fourth += square * square;
    }
    moments[0]! += second;
    moments[1]! += fourth;
  }

  #lookAtMusic(from: number): void {
    const threshold = this.#clip?.threshold;
    // Restored tops would count as harm.
    if (threshold !== undefined && this.#before.some((sample) => Math.abs(sample) >= threshold)) return;
    const before = this.#powers[0]!;
    const removed = this.#powers[1]!;
    this.#transform(this.#before, before);
    this.#transform(this.#removed, removed);
    noisePowerAt(this.#profile, from + this.#plan.size / 2, this.#noise);
    for (let k = 1; k < before.length - 1; k++) {
      const noise = this.#noise[k]!;
      this.#music += Math.max(0, before[k]! - noise);
      this.#harm += Math.max(0, removed[k]! - BEYOND_NOISE * noise);
    }
  }

  #transform(samples: Float64Array, power: Float64Array): void {
    const work = this.#work;
    for (let n = 0; n < work.length; n++) work[n] = samples[n]! * this.#window[n]!;
    this.#fft.forward(work, this.#re, this.#im);
    for (let k = 0; k < power.length; k++) power[k] = this.#re[k]! * this.#re[k]! + this.#im[k]! * this.#im[k]!;
  }
}
