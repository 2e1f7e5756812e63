import { type Block, blockLength, type Meter } from '../signal/block.ts';
import { ratioToDb } from '../signal/decibels.ts';
import { PowerList } from './gate.ts';
import { greatestTop, midwayInto, REACH_AFTER, REACH_BEFORE, TOP_NORM, topsInto } from './peak-interpolator.ts';

/** Frames that are passed over or interpolated together. No less than REACH_AFTER - 1. */
const CELL_FRAMES = 16;
/** Cells kept before and after the frames being searched, so that every reach lies in the work buffer. */
const MARGIN_FRAMES = 2 * CELL_FRAMES;
/** Frames searched at a time. */
const SEARCH_FRAMES = 4096;
const WORK_FRAMES = MARGIN_FRAMES + SEARCH_FRAMES + MARGIN_FRAMES;
const WORK_CELLS = WORK_FRAMES / CELL_FRAMES;

/**
 * Finds the greatest sample and the greatest interpolated magnitude of one channel.
 *
 * Exact for the interpolator: stretches are only passed over where the greatest frame in reach, times the filter's
 * L1 norm, cannot pass the peak found before. What comes before the first frame and after the last counts as silence.
 * Memory 34 kB. The result does not depend on how the input was cut.
 */
export class PeakFinder {
  #work = new Float32Array(WORK_FRAMES);
  #spare = new Float32Array(WORK_FRAMES);
  readonly #cells = new Float64Array(WORK_CELLS);
  readonly #midway = new Float64Array(SEARCH_FRAMES + 3);
  #filled = MARGIN_FRAMES;
  #samplePeak = 0;
  #truePeak = 0;
  readonly #interpolates: boolean;

  /** interpolates: false reads samples only, and gives their peak for both. */
  constructor(interpolates = true) {
    this.#interpolates = interpolates;
  }

  /** Takes the frames [from, to) of samples. */
  add(samples: Float32Array, from = 0, to = samples.length): void {
    let next = from;
    while (next < to) {
      const count = Math.min(to - next, WORK_FRAMES - this.#filled);
      this.#work.set(samples.subarray(next, next + count), this.#filled);
      this.#filled += count;
      next += count;
      if (this.#filled === WORK_FRAMES) this.#searchAndShift();
    }
  }

  #searchAndShift(): void {
    this.#truePeak = this.#search(this.#work, this.#truePeak);
    this.#samplePeak = Math.max(this.#samplePeak, this.#greatestSample());
    this.#work.copyWithin(0, SEARCH_FRAMES);
    this.#filled = 2 * MARGIN_FRAMES;
  }

  /** Greatest frame of the cells that #search has just measured, without the margins (they had or have their turn). */
  #greatestSample(): number {
    let greatest = 0;
    for (let cell = 2; cell < WORK_CELLS - 2; cell++) greatest = Math.max(greatest, this.#cells[cell]!);
    return greatest;
  }

  #search(work: Float32Array, peak: number): number {
    const cells = this.#cells;
    measureCells(work, cells);
    let greatest = Math.max(peak, this.#greatestSample());
    if (!this.#interpolates) return greatest;
    let cell = 2;
    while (cell < WORK_CELLS - 2) {
      if (!this.#isHot(cell, greatest)) {
        cell++;
        continue;
      }
      const first = cell;
      // Short runs, so that a peak found early lets the rest of a loud passage be passed over.
      while (cell < WORK_CELLS - 2 && cell - first < 8 && this.#isHot(cell, greatest)) cell++;
      const from = first * CELL_FRAMES;
      const to = cell * CELL_FRAMES;
      midwayInto(work, from - 2, to + 1, this.#midway);
      greatest = greatestTop(work, this.#midway, from, to, greatest);
    }
    return greatest;
  }

  #isHot(cell: number, greatest: number): boolean {
    const cells = this.#cells;
    const needed = greatest / TOP_NORM;
    return cells[cell]! > needed || cells[cell - 1]! > needed || cells[cell + 1]! > needed;
  }

  /** The greatest magnitudes so far, linear, full scale 1; the frames taken so far counted as the whole. */
  peaks(): { sample: number; interpolated: number } {
    let sample = this.#samplePeak;
    let interpolated = this.#truePeak;
    const waiting = this.#work;
    const spare = this.#spare;
    // The frames from the first margin's end on have not been searched; they fill the buffer at most, followed by silence.
    spare.fill(0);
    spare.set(waiting.subarray(0, this.#filled));
    interpolated = this.#search(spare, interpolated);
    sample = Math.max(sample, this.#greatestSample());
    if (this.#filled > WORK_FRAMES - MARGIN_FRAMES) {
      spare.copyWithin(0, SEARCH_FRAMES);
      spare.fill(0, 2 * MARGIN_FRAMES);
      interpolated = this.#search(spare, interpolated);
      sample = Math.max(sample, this.#greatestSample());
    }
    return { sample, interpolated };
  }

  /** Starts anew from silence, with no peak. */
  reset(): void {
    this.#work.fill(0);
    this.#filled = MARGIN_FRAMES;
    this.#samplePeak = 0;
    this.#truePeak = 0;
  }
}

/** Greatest magnitude of each cell of 16 frames. */
function measureCells(work: Float32Array, cells: Float64Array): void {
  for (let cell = 0, n = 0; cell < cells.length; cell++) {
    let high = 0;
    let low = 0;
    for (const end = n + CELL_FRAMES; n < end; n += 4) {
      const a = work[n]!;
      const b = work[n + 1]!;
      const c = work[n + 2]!;
      const d = work[n + 3]!;
      if (a > high) high = a;
      if (a < low) low = a;
      if (b > high) high = b;
      if (b < low) low = b;
      if (c > high) high = c;
      if (c < low) low = c;
      if (d > high) high = d;
      if (d < low) low = d;
    }
    cells[cell] = Math.max(high, -low);
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
 * Latency 17 frames. No allocation while running; the result does not depend on how the input was cut.
 */
export class FramePeaks {
  /** output[i] of a call belongs to the frame that came this many frames before input[i]. */
  readonly latencyFrames = REACH_AFTER;
  readonly #work = new Float32Array(HISTORY_FRAMES + PIECE_FRAMES);
  readonly #midway = new Float64Array(PIECE_FRAMES + 3);
  readonly #atFrame = new Float64Array(PIECE_FRAMES);
  readonly #between = new Float64Array(PIECE_FRAMES);
  #betweenBefore = 0;

  /**
   * Takes input and fills output (no shorter than input, may be the same array) with linear magnitudes, full scale 1, of
   * the frames `latencyFrames` earlier. The first figures of a run belong to the silence before it.
   */
  peaksInto(input: Float32Array, output: Float32Array): void {
    if (output.length < input.length) {
      throw new RangeError(`output holds ${output.length} frames; the input has ${input.length}`);
    }
    for (let from = 0; from < input.length; from += PIECE_FRAMES) {
      const count = Math.min(PIECE_FRAMES, input.length - from);
      this.#work.set(input.subarray(from, from + count), HISTORY_FRAMES);
      this.#run(count, output, from);
      this.#work.copyWithin(0, count, count + HISTORY_FRAMES);
    }
  }

  #run(count: number, output: Float32Array, at: number): void {
    const from = REACH_BEFORE;
    const to = from + count;
    const between = this.#between;
    const atFrame = this.#atFrame;
    midwayInto(this.#work, from - 2, to + 1, this.#midway);
    topsInto(this.#work, this.#midway, from, to, atFrame, between);
    let before = this.#betweenBefore;
    for (let n = 0; n < count; n++) {
      const after = between[n]!;
      const here = atFrame[n]!;
      const around = Math.max(before, after);
      output[at + n] = Math.max(here, around);
      before = after;
    }
    this.#betweenBefore = before;
  }

  /** Back to the state of a new one. */
  reset(): void {
    this.#work.fill(0);
    this.#betweenBefore = 0;
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
 * 0.09 dB. Memory 50 kB a channel.
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
