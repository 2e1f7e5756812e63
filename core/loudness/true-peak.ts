import { type Block, blockLength, type Meter } from '../signal/block.ts';
import { ratioToDb } from '../signal/decibels.ts';
import { PowerList } from './gate.ts';
import { loadPeakKernel } from './kernel/peak-kernel.ts';
import { MARGIN_FRAMES, type PeakEngine, SEARCH_FRAMES, WORK_FRAMES } from './peak-engine.ts';
import { REACH_AFTER, REACH_BEFORE } from './peak-interpolator.ts';
import { ScriptPeakEngine } from './script-peak-engine.ts';

/** The fastest engine there is here. */
function makePeakEngine(): PeakEngine {
  return loadPeakKernel() ?? new ScriptPeakEngine();
}

/**
 * Finds the greatest sample and the greatest interpolated magnitude of one channel.
 *
 * Exact for the interpolator: stretches are only passed over where the greatest frame in reach, times the filter's
 * L1 norm, cannot pass the peak found before. What comes before the first frame and after the last counts as silence.
 * Memory 128 kB. The result does not depend on how the input was cut.
 */
export class PeakFinder {
  readonly #engine: PeakEngine;
  /** Starts with a margin of silence to be searched: a top may lie before the first frame. */
  #filled = 2 * MARGIN_FRAMES;
  #samplePeak = 0;
  #truePeak = 0;

  constructor(engine: PeakEngine = makePeakEngine()) {
    this.#engine = engine;
  }

  /** Takes the frames [from, to) of samples. */
  add(samples: Float32Array, from = 0, to = samples.length): void {
    const engine = this.#engine;
    let next = from;
    while (next < to) {
      const count = Math.min(to - next, WORK_FRAMES - this.#filled);
      engine.work.set(samples.subarray(next, next + count), this.#filled);
      this.#filled += count;
      next += count;
      if (this.#filled < WORK_FRAMES) return;
      this.#truePeak = engine.search(false, this.#truePeak);
      this.#samplePeak = Math.max(this.#samplePeak, engine.lastSamplePeak());
      engine.work.copyWithin(0, SEARCH_FRAMES);
      this.#filled = 2 * MARGIN_FRAMES;
    }
  }

  /** The greatest magnitudes so far, linear, full scale 1; the frames taken so far counted as the whole. */
  peaks(): { sample: number; interpolated: number } {
    const { work, spare } = this.#engine;
    let sample = this.#samplePeak;
    let interpolated = this.#truePeak;
    const search = (): void => {
      interpolated = this.#engine.search(true, interpolated);
      sample = Math.max(sample, this.#engine.lastSamplePeak());
    };
    spare.set(work.subarray(0, this.#filled));
    spare.fill(0, this.#filled);
    search();
    // Frames that lie in the second margin are left, and the silence after them.
    spare.copyWithin(0, SEARCH_FRAMES);
    spare.fill(0, 2 * MARGIN_FRAMES);
    search();
    return { sample, interpolated };
  }

  /** Starts anew from silence, with no peak. */
  reset(): void {
    this.#engine.work.fill(0);
    this.#filled = 2 * MARGIN_FRAMES;
    this.#samplePeak = 0;
    this.#truePeak = 0;
  }
}

/** PeakFinder without its interpolator: the greatest sample stands for both. */
export class SamplePeakFinder {
  #greatest = 0;

  add(samples: Float32Array): void {
    let greatest = this.#greatest;
    for (let n = 0; n < samples.length; n++) greatest = Math.max(greatest, Math.abs(samples[n]!));
    this.#greatest = greatest;
  }

  peaks(): { sample: number; interpolated: number } {
    return { sample: this.#greatest, interpolated: this.#greatest };
  }

  reset(): void {
    this.#greatest = 0;
  }
}

/** Frames that FramePeaks works through at a time. */
const PIECE_FRAMES = 1024;
const HISTORY_FRAMES = REACH_AFTER + REACH_BEFORE;

/**
 * True peak magnitude around every frame of one channel, streaming: for frame n the greatest interpolated magnitude
 * strictly between frames n - 1 and n + 1. A top between two frames counts for both of them, so a gain that holds each
 * frame's figure under a ceiling holds the interpolated signal under it, as long as the gain moves slowly.
 *
 * Latency 17 frames. No allocation of sound while running; the result does not depend on how the input was cut.
 */
export class FramePeaks {
  /** output[i] of a call belongs to the frame that came this many frames before input[i]. */
  readonly latencyFrames = REACH_AFTER;
  readonly #engine: PeakEngine;
  #between = 0;

  constructor(engine: PeakEngine = makePeakEngine()) {
    this.#engine = engine;
  }

  /**
   * Takes input and fills output (no shorter than input, may be the same array) with linear magnitudes, full scale 1, of
   * the frames `latencyFrames` earlier. The first figures of a run belong to the silence before it.
   */
  peaksInto(input: Float32Array, output: Float32Array): void {
    if (output.length < input.length) {
      throw new RangeError(`output holds ${output.length} frames; the input has ${input.length}`);
    }
    const { work, figures } = this.#engine;
    for (let from = 0; from < input.length; from += PIECE_FRAMES) {
      const count = Math.min(PIECE_FRAMES, input.length - from);
      work.set(input.subarray(from, from + count), HISTORY_FRAMES);
      this.#between = this.#engine.followFrames(count, this.#between);
      output.set(figures.subarray(0, count), from);
      work.copyWithin(0, count, count + HISTORY_FRAMES);
    }
  }

  /** Back to the state of a new one. */
  reset(): void {
    this.#engine.work.fill(0);
    this.#between = 0;
  }
}

/** Greatest magnitudes of a stretch of sound; -Infinity for digital silence. */
export interface PeakReport {
  /** Greatest sample of all channels, dBFS. */
  readonly samplePeakDbfs: number;
  /** Greatest interpolated magnitude of all channels, dBTP. Never below the sample peak. */
  readonly truePeakDbtp: number;
  /** The same, a number a channel, dBTP. */
  readonly channelsDbtp: readonly number[];
}

/**
 * True-peak meter.
 * Source: ITU-R BS.1770-5, Annex 2, with an interpolator of our own (see peak-interpolator.ts); EBU Tech 3341 (2023) asks
 * for +0.2 / -0.4 dB. In: planar channels, full scale 1, any rate. Reads a sine up to 0.45 of the sample rate within
 * 0.09 dB. Memory 128 kB a channel.
 */
export class TruePeakMeter implements Meter<PeakReport> {
  readonly #finders: readonly PeakFinder[];

  /** channels: 1 or more. */
  constructor(channels: number) {
    if (!Number.isInteger(channels) || channels < 1) throw new RangeError(`channels is ${channels}; allowed 1 or more`);
    this.#finders = Array.from({ length: channels }, () => new PeakFinder());
  }

  add(block: Block): void {
    if (block.length !== this.#finders.length && blockLength(block) > 0) {
      throw new RangeError(`block has ${block.length} channels; this meter was made for ${this.#finders.length}`);
    }
    this.#finders.forEach((finder, channel) => {
      finder.add(block[channel]!);
    });
  }

  result(): PeakReport {
    const peaks = this.#finders.map((finder) => finder.peaks());
    return {
      samplePeakDbfs: ratioToDb(Math.max(...peaks.map((peak) => peak.sample))),
      truePeakDbtp: ratioToDb(Math.max(...peaks.map((peak) => peak.interpolated))),
      channelsDbtp: peaks.map((peak) => ratioToDb(peak.interpolated)),
    };
  }

  /** Back to the state of a new meter. */
  reset(): void {
    for (const finder of this.#finders) finder.reset();
  }
}

/**
 * The true peak of every 100 ms, of the greatest channel, linear. Every frame is interpolated, so this costs several times
 * what PeakFinder does. The steps are 17 frames late. Memory: one number per 100 ms.
 */
export class TruePeakCurve {
  readonly #rateHz: number;
  readonly #followers: readonly FramePeaks[];
  readonly #figures = new Float32Array(PIECE_FRAMES);
  readonly #steps = new PowerList();
  #greatest = 0;
  #frames = 0;

  /** rateHz: 8000 to 192000; channels: 1 or more. */
  constructor(rateHz: number, channels: number) {
    this.#rateHz = rateHz;
    this.#followers = Array.from({ length: channels }, () => new FramePeaks());
  }

  add(block: Block): void {
    const length = blockLength(block);
    let from = 0;
    while (from < length) {
      const edge = Math.round(((this.#steps.length + 1) * this.#rateHz) / 10);
      const count = Math.min(length - from, edge - this.#frames, PIECE_FRAMES);
      this.#followers.forEach((follower, channel) => {
        follower.peaksInto(block[channel]!.subarray(from, from + count), this.#figures);
        for (let n = 0; n < count; n++) this.#greatest = Math.max(this.#greatest, this.#figures[n]!);
      });
      from += count;
      this.#frames += count;
      if (this.#frames === edge) {
        this.#steps.push(this.#greatest);
        this.#greatest = 0;
      }
    }
  }

  /** A figure for each whole 100 ms so far; a view, valid until the next call of add. */
  result(): Float64Array {
    return this.#steps.view();
  }

  /** Back to the state of a new one. */
  reset(): void {
    for (const follower of this.#followers) follower.reset();
    this.#steps.clear();
    this.#greatest = 0;
    this.#frames = 0;
  }
}
