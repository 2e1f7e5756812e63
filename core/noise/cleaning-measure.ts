import type { ClipFacts } from './clip-facts.ts';
import { type FramePlan, framePlan } from './frame-plan.ts';
import type { Stretch } from './learn.ts';
import { type NoiseProfile, noisePowerAt } from './profile.ts';
import { type WindowPower, windowPower } from './window-power.ts';

/** What cleaning did to a take. */
export interface CleaningReport {
  /** Level of the noise before, in the silences, dBFS (a full-scale sine is 0). */
  readonly levelDbfs: number;
  /** How far it went down there, dB. Infinity when nothing is left. */
  readonly reducedDb: number;
  /**
   * Music taken away with the noise: power of what was taken above what noise explains, over the music's power, dB.
   * -Infinity when there was none. An estimate: what is audible (see AUDIBLE_HARM_DB) is our own choice, no source.
   */
  readonly harmDb: number;
  /**
   * Musical noise: kurtosis of the power spectra in the silences after, over that before. 1 is none. Source: Uemura et
   * al. 2008 (raw moments of the power, all bins above 50 Hz together); half a second at the ends of the silence does not
   * count. NaN without a silence.
   */
  readonly kurtosisRatio: number;
}

/** Between two looks at the music, seconds: at first, and after the first looks. */
const LOOK_EVERY_SEC = 0.7;
const LOOK_SELDOM_SEC = 8;
const FIRST_LOOKS = 30;
/** Windows of silence that are looked at. */
const SILENT_WINDOWS = 30;
/** Noise passes this many times its mean power in one bin of 400. */
const BEYOND_NOISE = 6;

/**
 * Left out at both ends of a silence, windows: there the cleaner already turns up for the clap or the note beside it, on
 * purpose. A quarter of the silence at most.
 */
const EDGE_WINDOWS = 3;

function withoutEdges({ fromFrame, toFrame }: Stretch, size: number): Stretch {
  const edge = Math.min(EDGE_WINDOWS * size, Math.floor((toFrame - fromFrame) / 4));
  return { fromFrame: fromFrame + edge, toFrame: toFrame - edge };
}

/** One window of silence: mean squares, and moments of its power spectrum. */
interface SilentWindow {
  readonly powerBefore: number;
  readonly powerAfter: number;
  readonly secondBefore: number;
  readonly fourthBefore: number;
  readonly secondAfter: number;
  readonly fourthAfter: number;
}

/**
 * Measures what cleaning does, from blocks of before and after in step (as `Cleaner` gives them: before is cleaned plus
 * removed). Looks at 30 windows in the silences and at one every 0.7 s (later 8 s) elsewhere. Memory: some windows.
 */
export class CleaningMeasure {
  readonly #plan: FramePlan;
  readonly #profile: NoiseProfile;
  readonly #silences: readonly Stretch[];
  readonly #clip: ClipFacts | null;
  readonly #spectra: WindowPower;
  /** The window being filled, as `add` is given it. */
  readonly #cleaned: Float32Array;
  readonly #other: Float32Array;
  #second: 'removed' | 'before' = 'removed';
  readonly #before: Float32Array;
  readonly #removed: Float32Array;
  readonly #powerBefore: Float32Array;
  readonly #noise: Float64Array;
  readonly #lookEvery: number;
  readonly #lookSeldom: number;
  #looks = 0;
  /** Frame of the take where the window being filled begins, and how much of it is there. */
  #windowFrom: number;
  #filled = 0;
  #noiseFrame = Number.NEGATIVE_INFINITY;
  #position: number;
  readonly #silent: SilentWindow[] = [];
  #music = 0;
  #harm = 0;

  /** silences: those of the take; startFrame: frame of the take of the first block. */
  constructor(profile: NoiseProfile, silences: readonly Stretch[], clip: ClipFacts | null = null, startFrame = 0) {
    const plan = framePlan(profile.rateHz);
    this.#plan = plan;
    this.#profile = profile;
    this.#silences = silences.map((silence) => withoutEdges(silence, plan.size));
    this.#clip = clip;
    this.#spectra = windowPower(plan);
    this.#cleaned = new Float32Array(plan.size);
    this.#other = new Float32Array(plan.size);
    this.#before = new Float32Array(plan.size);
    this.#removed = new Float32Array(plan.size);
    this.#powerBefore = new Float32Array(plan.bins);
    this.#noise = new Float64Array(plan.bins);
    this.#lookSeldom = Math.round(LOOK_SELDOM_SEC * plan.rateHz);
    this.#lookEvery = Math.round(LOOK_EVERY_SEC * plan.rateHz);
    this.#position = startFrame;
    this.#windowFrom = this.#nextWindow(startFrame);
  }

  /** cleaned and removed (or, where `second` says so, the sound as it came): of one length, in step. */
  add(cleaned: Float32Array, other: Float32Array, second: 'removed' | 'before' = 'removed'): void {
    const size = this.#plan.size;
    this.#second = second;
    let n = 0;
    while (n < cleaned.length) {
      const skip = this.#windowFrom + this.#filled - (this.#position + n);
      if (skip > 0) {
        n += skip;
        continue;
      }
      const count = Math.min(size - this.#filled, cleaned.length - n);
      this.#cleaned.set(cleaned.subarray(n, n + count), this.#filled);
      this.#other.set(other.subarray(n, n + count), this.#filled);
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
    const windows = this.#silent;
    const total = (part: keyof SilentWindow): number => windows.reduce((sum, window) => sum + window[part], 0);
    const before = total('fourthBefore') / total('secondBefore') ** 2;
    const after = total('fourthAfter') / total('secondAfter') ** 2;
    return {
      levelDbfs: 10 * Math.log10((2 * total('powerBefore')) / Math.max(1, windows.length)),
      reducedDb: 10 * Math.log10(total('powerBefore') / total('powerAfter')),
      harmDb: this.#music > 0 ? 10 * Math.log10(this.#harm / this.#music) : Number.NEGATIVE_INFINITY,
      kurtosisRatio: after / before,
    };
  }

  /** Where the next window at or behind a frame begins: at once within a silence, else some way on. */
  #nextWindow(frame: number): number {
    const size = this.#plan.size;
    const every = this.#looks < FIRST_LOOKS ? this.#lookEvery : this.#lookSeldom;
    let next = Math.ceil(frame / every) * every;
    if (this.#silent.length >= SILENT_WINDOWS) return next;
    for (const { fromFrame, toFrame } of this.#silences) {
      const from = Math.max(frame, fromFrame);
      if (from + size <= toFrame) next = Math.min(next, from);
    }
    return next;
  }

  #look(): void {
    const from = this.#windowFrom;
    const to = from + this.#plan.size;
    this.#tellApart();
    const silent = this.#silences.some(({ fromFrame, toFrame }) => from >= fromFrame && to <= toFrame);
    if (silent) this.#lookAtSilence();
    else this.#lookAtMusic(from);
  }

  /** Fills #before and #removed. */
  #tellApart(): void {
    const cleaned = this.#cleaned;
    const other = this.#other;
    const before = this.#before;
    const removed = this.#removed;
    if (this.#second === 'removed') {
      removed.set(other);
      for (let n = 0; n < before.length; n++) before[n] = cleaned[n]! + other[n]!;
    } else {
      before.set(other);
      for (let n = 0; n < before.length; n++) removed[n] = other[n]! - cleaned[n]!;
    }
  }

  #lookAtSilence(): void {
    const { size } = this.#plan;
    let powerBefore = 0;
    let powerAfter = 0;
    for (let n = 0; n < size; n++) {
      powerBefore += this.#before[n]! * this.#before[n]!;
      powerAfter += this.#cleaned[n]! * this.#cleaned[n]!;
    }
    const before = this.#moments(this.#before);
    const after = this.#moments(this.#cleaned);
    this.#silent.push({
      powerBefore: powerBefore / size,
      powerAfter: powerAfter / size,
      secondBefore: before.second,
      fourthBefore: before.fourth,
      secondAfter: after.second,
      fourthAfter: after.fourth,
    });
  }

  /** Sums over the bins above 50 Hz of the power to the 2nd and 4th. */
  #moments(samples: Float32Array): { second: number; fourth: number } {
    const power = this.#transform(samples);
    const lowest = Math.ceil((50 * this.#plan.size) / this.#plan.rateHz);
    let second = 0;
    let fourth = 0;
    for (let k = lowest; k < power.length; k++) {
      const square = power[k]! * power[k]!;
      second += square;
      fourth += square * square;
    }
    return { second, fourth };
  }

  #lookAtMusic(from: number): void {
    this.#looks++;
    const threshold = this.#clip?.threshold;
    // Restored tops would count as harm.
    if (threshold !== undefined && this.#before.some((sample) => Math.abs(sample) >= threshold)) return;
    const before = this.#powerBefore;
    before.set(this.#transform(this.#before));
    const removed = this.#transform(this.#removed);
    this.#noiseAt(from + this.#plan.size / 2);
    let music = 0;
    let harm = 0;
    for (let k = 1; k < before.length - 1; k++) {
      const noise = this.#noise[k]!;
      music += Math.max(0, before[k]! - noise);
      harm += Math.max(0, removed[k]! - BEYOND_NOISE * noise);
    }
    this.#music += music;
    this.#harm += harm;
  }

  /** The noise some seconds around a frame; it changes slowly. */
  #noiseAt(frame: number): void {
    if (Math.abs(frame - this.#noiseFrame) < 4 * this.#plan.rateHz) return;
    this.#noiseFrame = frame;
    noisePowerAt(this.#profile, frame, this.#noise);
  }

  /** |X|^2 per bin; valid until the next call. */
  #transform(samples: Float32Array): Float32Array {
    this.#spectra.samples.set(samples);
    this.#spectra.run();
    return this.#spectra.power;
  }
}
