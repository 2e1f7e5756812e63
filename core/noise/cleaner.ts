import type { Block, Processor } from '../signal/block.ts';
import { BlockBuffer } from '../signal/block-buffer.ts';
import type { ClipFacts } from './clip-facts.ts';
import { Declipper } from './declipper.ts';
import { AHEAD_FRAMES, CHUNK_FRAMES, framePlan } from './frame-plan.ts';
import { makeKernelEngine } from './kernel-engine.ts';
import type { NoiseProfile } from './profile.ts';
import { SampleQueue } from './sample-queue.ts';
import { type CleanSettings, checkSettings } from './settings.ts';
import { PlainEngine, type SpectralEngine } from './spectral-engine.ts';

/** Frames of exact digital silence in a row from which on the output is silent, too. */
const DIGITAL_SILENCE_FRAMES = 64;

/** What a Cleaner may be told beside its settings. */
export interface CleanerOptions {
  /** How the take is clipped, as `SilenceFinder.study` found; null or absent when it is not. */
  readonly clip?: ClipFacts | null;
  /** Frame of the take that the first frame handed in is; default 0. The noise may change over the take. */
  readonly startFrame?: number;
  /** 'kernel' (WebAssembly, some eight times as fast) where it is to be had, else 'plain'; default 'kernel'. */
  readonly engine?: 'kernel' | 'plain';
  /** What the second channel holds: what was taken away (when absent), or the sound as it came, which costs less. */
  readonly second?: 'removed' | 'before';
}

/**
 * Takes the noise out of a take: one channel in, two out, the cleaned sound and what was taken away (input minus
 * cleaned), in step with the input.
 * Exact digital silence stays silent. Clipped tops are restored before the noise is taken out, when the options say
 * where they are: then peaks may pass 1. Memory: independent of length, some MB at 48 kHz.
 */
export class Cleaner implements Processor {
  readonly latencyFrames: number;
  readonly #engine: SpectralEngine;
  readonly #declipper: Declipper | undefined;
  readonly #dry: SampleQueue;
  readonly #wet: SampleQueue;
  readonly #output = new BlockBuffer(2);
  readonly #pending: Float32Array;
  readonly #givesRemoved: boolean;
  readonly #startFrame: number;
  #pendingFrames = 0;
  #lead: number;
  #inFrames = 0;
  #outFrames = 0;
  #silent = false;

  /** profile: learnt at the same rate (`learnNoise`). */
  constructor(rateHz: number, profile: NoiseProfile, settings: CleanSettings, options: CleanerOptions = {}) {
    this.#givesRemoved = options.second !== 'before';
    const { clip, startFrame = 0 } = options;
    this.#startFrame = startFrame;
    checkSettings(settings);
    const plan = framePlan(rateHz);
    if (profile.rateHz !== rateHz || profile.size !== plan.size) {
      throw new RangeError(`profile is for ${profile.rateHz} Hz; allowed ${rateHz} Hz`);
    }
    const kernel = options.engine === 'plain' ? undefined : makeKernelEngine(plan, profile, settings, startFrame);
    this.#engine = kernel ?? new PlainEngine(plan, profile, settings, startFrame);
    this.#declipper = clip && settings.restoreClipped ? new Declipper(clip) : undefined;
    this.latencyFrames =
      plan.size + (AHEAD_FRAMES + CHUNK_FRAMES - 1) * plan.hop + (this.#declipper?.latencyFrames ?? 0);
    this.#pending = new Float32Array(plan.hop);
    this.#dry = new SampleQueue(2 * this.latencyFrames);
    this.#wet = new SampleQueue(2 * this.latencyFrames);
    this.#lead = plan.size - plan.hop;
  }

  process(input: Block): Block {
    const samples = input[0]!;
    this.#inFrames += samples.length;
    this.#dry.push(samples, 0, samples.length);
    this.#feed(this.#declipper === undefined ? samples : this.#declipper.process(input)[0]!);
    return this.#give(Math.max(0, this.#inFrames - this.latencyFrames) - this.#outFrames);
  }

  flush(): Block {
    if (this.#declipper !== undefined) this.#feed(this.#declipper.flush()[0]!);
    const zeros = new Float32Array(this.#engine.plan.hop);
    while (this.#wet.length < this.#inFrames - this.#outFrames) this.#feed(zeros);
    return this.#give(this.#inFrames - this.#outFrames);
  }

  /** startFrame: frame of the take that the next frame handed in is; where it began, when absent. */
  reset(startFrame = this.#startFrame): void {
    this.#engine.reset(startFrame);
    this.#declipper?.reset();
    this.#dry.clear();
    this.#wet.clear();
    this.#pendingFrames = 0;
    this.#lead = this.#engine.plan.size - this.#engine.plan.hop;
    this.#inFrames = 0;
    this.#outFrames = 0;
    this.#silent = false;
  }

  #feed(samples: Float32Array): void {
    const hop = this.#pending.length;
    let from = 0;
    while (from < samples.length) {
      if (this.#pendingFrames === 0 && samples.length - from >= hop) {
        this.#pushHop(samples, from);
        from += hop;
        continue;
      }
      const count = Math.min(hop - this.#pendingFrames, samples.length - from);
      this.#pending.set(samples.subarray(from, from + count), this.#pendingFrames);
      this.#pendingFrames += count;
      from += count;
      if (this.#pendingFrames === hop) {
        this.#pendingFrames = 0;
        this.#pushHop(this.#pending, 0);
      }
    }
  }

  #pushHop(samples: Float32Array, offset: number): void {
    if (!this.#engine.push(samples, offset)) return;
    const done = this.#engine.output;
    const skip = Math.min(this.#lead, done.length);
    this.#lead -= skip;
    this.#wet.push(done, skip, done.length - skip);
  }

  #give(frames: number): Block {
    const output = this.#output.take(frames);
    const cleaned = output[0]!;
    const removed = output[1]!;
    this.#wet.shift(cleaned);
    this.#dry.shift(removed);
    if (this.#silent || holdsZeros(removed)) this.#keepSilence(removed, cleaned);
    if (this.#givesRemoved) subtract(removed, cleaned);
    this.#outFrames += frames;
    return output;
  }

  /** Digital silence of the take stays digital silence. */
  #keepSilence(dry: Float32Array, cleaned: Float32Array): void {
    let silent = this.#silent;
    for (let n = 0; n < dry.length; n++) {
      if (dry[n] === 0) {
        silent ||= this.#silenceFrom(dry, n + 1);
        if (silent) cleaned[n] = 0;
      } else silent = false;
    }
    this.#silent = silent;
  }

  /** Whether the frames from `from` on, in `given` and then in the queue, are zero long enough or up to the end. */
  #silenceFrom(given: Float32Array, from: number): boolean {
    for (let n = 0; n < DIGITAL_SILENCE_FRAMES - 1; n++) {
      const at = from + n;
      if (at < given.length) {
        if (given[at] !== 0) return false;
      } else {
        const behind = at - given.length;
        if (behind >= this.#dry.length) return true;
        if (this.#dry.at(behind) !== 0) return false;
      }
    }
    return true;
  }
}

/**
 * Whether a run of zeros long enough to count may begin or go on here: it meets every 64th sample, or reaches an end.
 * Quiet 16-bit takes are full of single zeros, so the run itself is looked at.
 */
function holdsZeros(samples: Float32Array): boolean {
  const last = samples.length - 1;
  if (last < 0) return false;
  for (let n = 0; n <= last; n += DIGITAL_SILENCE_FRAMES) if (samples[n] === 0 && longRun(samples, n)) return true;
  return samples[last] === 0 && longRun(samples, last);
}

function longRun(samples: Float32Array, inside: number): boolean {
  let from = inside;
  let to = inside;
  while (from > 0 && samples[from - 1] === 0 && to - from < DIGITAL_SILENCE_FRAMES) from--;
  while (to < samples.length - 1 && samples[to + 1] === 0 && to - from < DIGITAL_SILENCE_FRAMES) to++;
  return from === 0 || to === samples.length - 1 || to - from + 1 >= DIGITAL_SILENCE_FRAMES;
}

/** from -= what, sample by sample. */
function subtract(from: Float32Array, what: Float32Array): void {
  for (let n = 0; n < from.length; n++) from[n]! -= what[n]!;
}
