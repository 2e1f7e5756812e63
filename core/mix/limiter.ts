import {
  greatestTop,
  midwayInto,
  REACH_AFTER,
  TOP_NORM,
  TOP_NORM_DOUBLED,
  topsInto,
} from '../loudness/peak-interpolator.ts';
import { type Block, blockLength, type Processor } from '../signal/block.ts';
import { BlockBuffer } from '../signal/block-buffer.ts';
import { dbToRatio, ratioToDb } from '../signal/decibels.ts';
import { assertInRange } from '../signal/fault.ts';
import { GainCurve } from './gain-curve.ts';

/** What a limiter may be told; every time has its default beside it. */
export interface LimiterSettings {
  readonly rateHz: number;
  /** 1 or more; all are turned down together, so that the stage does not lean to one side. */
  readonly channels: number;
  /** Highest true peak of the output, dBTP, -40 to 0. */
  readonly ceilingDbtp: number;
  /** How far it looks ahead, and so how long it takes to turn down; 1 to 20 ms. */
  readonly lookAheadMs?: number;
  /** How long it stays down after a peak; 0 to 100 ms. */
  readonly holdMs?: number;
  /** Time in which it then gives back all but 1/e of what it took; 5 to 2000 ms. */
  readonly releaseMs?: number;
}

/** How hard a limiter worked. */
export interface LimiterWork {
  /** Most that it took away at any frame, dB, 0 or more. */
  readonly mostDb: number;
  /** Mean of what it took away, over the frames at which it worked, dB; 0 when it never did. */
  readonly meanDb: number;
  /** Part of all frames at which it worked, 0 to 1. */
  readonly share: number;
}

/** 5 ms is some two periods of a low voice's fundamental; shorter ones were heard as crackle in the literature on limiters. */
const LOOK_AHEAD_MS = 5;
/** Half a period of 50 Hz, so that the gain does not follow the wave of a bass note. */
const HOLD_MS = 10;
const RELEASE_MS = 100;
/**
 * What is kept free under the ceiling: the detector reads a peak up to 0.046 dB low (0.09 dB at the very top of the
 * band), and meters differ by a few hundredths among themselves.
 */
const MARGIN_DB = 0.05;
const PIECE_FRAMES = 1024;
/** Frames that are searched for peaks, or passed over, together. */
const CELL_FRAMES = 32;
/** Frames before the first new one that the interpolator and its neighbours read. */
const LEAD_FRAMES = 40;

/**
 * Look-ahead true-peak limiter.
 *
 * The true peak around every frame is read at four times the rate with a parabola on top (core/loudness); where it passes
 * the ceiling, gain-curve.ts makes the gain: the least in view, held, released exponentially, and smoothed over the
 * look-ahead so that it is down when the peak arrives and never moves fast. Where a stretch's greatest sample, times the
 * greatest gain of the interpolator, stays under the ceiling nothing is interpolated: exact, and the usual case.
 * Below the ceiling the sound passes to the bit. Silence is never given a gain.
 *
 * In: planar channels. Out: the same frames, turned down; their true peak stays at or under the ceiling (measured:
 * test/core/mix/limiter.test.ts). Latency: look-ahead and 17 frames, compensated. Allocates nothing while running.
 */
export class Limiter implements Processor {
  readonly latencyFrames: number;
  readonly #ceiling: number;
  readonly #history: number;
  readonly #work: readonly Float32Array[];
  readonly #curve: GainCurve;
  readonly #output: BlockBuffer;
  readonly #midway = new Float64Array(CELL_FRAMES + 8);
  readonly #atFrame = new Float64Array(CELL_FRAMES + 2);
  readonly #between = new Float64Array(CELL_FRAMES + 2);
  /** Peak around each frame of the piece, 0 where it was not looked for. */
  readonly #peaks = new Float64Array(PIECE_FRAMES);
  readonly #silence: Block;
  #toDrop: number;
  #received = 0;

  constructor(settings: LimiterSettings) {
    const { rateHz, channels, ceilingDbtp } = settings;
    const lookAheadMs = settings.lookAheadMs ?? LOOK_AHEAD_MS;
    const holdMs = settings.holdMs ?? HOLD_MS;
    const releaseMs = settings.releaseMs ?? RELEASE_MS;
    assertInRange('channels', channels, 1, 64);
    assertInRange('ceilingDbtp', ceilingDbtp, -40, 0);
    assertInRange('lookAheadMs', lookAheadMs, 1, 20);
    assertInRange('holdMs', holdMs, 0, 100);
    assertInRange('releaseMs', releaseMs, 5, 2000);
    const lookAheadFrames = Math.round((lookAheadMs / 1000) * rateHz);
    this.#ceiling = dbToRatio(ceilingDbtp - MARGIN_DB);
    this.#curve = new GainCurve({
      lookAheadFrames,
      holdFrames: Math.round((holdMs / 1000) * rateHz),
      releaseFrames: (releaseMs / 1000) * rateHz,
    });
    this.latencyFrames = REACH_AFTER + lookAheadFrames;
    this.#history = this.latencyFrames + LEAD_FRAMES;
    this.#work = Array.from({ length: channels }, () => new Float32Array(this.#history + PIECE_FRAMES));
    this.#output = new BlockBuffer(channels, PIECE_FRAMES);
    this.#silence = Array.from({ length: channels }, () => new Float32Array(this.latencyFrames));
    this.#toDrop = this.latencyFrames;
  }

  process(input: Block): Block {
    const length = blockLength(input);
    this.#received += length;
    return this.#run(input, length);
  }

  flush(): Block {
    // What is dropped at the start stands in for the frames before the first; a short sound gives only itself.
    const held = Math.min(this.#received, this.latencyFrames);
    const output = this.#run(this.#silence, this.latencyFrames);
    return held === blockLength(output) ? output : output.map((samples) => samples.subarray(samples.length - held));
  }

  reset(): void {
    for (const work of this.#work) work.fill(0);
    this.#curve.reset();
    this.#toDrop = this.latencyFrames;
    this.#received = 0;
  }

  /** How hard it worked since the start or the last reset. */
  work(): LimiterWork {
    const { leastGain, workingFrames, sumReductionDb, frames } = this.#curve;
    return {
      mostDb: leastGain < 1 ? -ratioToDb(leastGain) : 0,
      meanDb: workingFrames > 0 ? sumReductionDb / workingFrames : 0,
      share: frames > 0 ? workingFrames / frames : 0,
    };
  }

  /** Most that it took away at any frame since the last call, dB, 0 or more. For live reading. */
  takeMostDb(): number {
    const least = this.#curve.leastGainLately;
    this.#curve.leastGainLately = 1;
    return least < 1 ? -ratioToDb(least) : 0;
  }

  #run(input: Block, length: number): Block {
    const drop = Math.min(this.#toDrop, length);
    this.#toDrop -= drop;
    const output = this.#output.take(length - drop);
    for (let from = 0; from < length; from += PIECE_FRAMES) {
      const count = Math.min(PIECE_FRAMES, length - from);
      for (let channel = 0; channel < this.#work.length; channel++) {
        copyInto(this.#work[channel]!, this.#history, input[channel]!, from, count);
      }
      const anyPeak = this.#findPeaks(count);
      this.#give(output, from - drop, count, anyPeak);
      for (const work of this.#work) work.copyWithin(0, count, count + this.#history);
    }
    return output;
  }

  /** Peaks around the `count` frames that have just come into reach; true when one passes the ceiling. */
  #findPeaks(count: number): boolean {
    this.#peaks.fill(0, 0, count);
    let any = false;
    let loud = false;
    for (let from = 0; from < count; from += CELL_FRAMES) {
      loud = this.#searchCell(from, Math.min(count, from + CELL_FRAMES), loud);
      any ||= loud;
    }
    return any;
  }

  /** loud: the cell before passed the ceiling; only a hint about which way is cheaper. */
  #searchCell(from: number, to: number, loud: boolean): boolean {
    const ceiling = this.#ceiling;
    const start = this.#history - REACH_AFTER + from - 1;
    const end = start + 1 + to - from;
    let passes = false;
    for (const work of this.#work) {
      const greatest = greatestIn(work, start - 18, end + REACH_AFTER);
      if (greatest * TOP_NORM <= ceiling) continue;
      const doubled = Math.max(greatest, midwayInto(work, start - 2, end + 1, this.#midway));
      if (doubled * TOP_NORM_DOUBLED <= ceiling) continue;
      // Asking for the greatest top alone is cheaper than all of them, and mostly enough; not where it is loud throughout.
      if (!loud && this.#staysUnder(work, start, end)) continue;
      topsInto(work, this.#midway, start, end, this.#atFrame, this.#between);
      for (let i = from; i < to; i++) {
        const k = i - from;
        const peak = Math.max(this.#between[k]!, this.#atFrame[k + 1]!, this.#between[k + 1]!);
        if (peak > this.#peaks[i]!) this.#peaks[i] = peak;
        if (peak > ceiling) passes = true;
      }
    }
    return passes;
  }

  /** No value of [start, end] passes the ceiling: the ends do not, so the greatest would be a top between them. */
  #staysUnder(work: Float32Array, start: number, end: number): boolean {
    const ceiling = this.#ceiling;
    if (Math.abs(work[start]!) > ceiling || Math.abs(work[end]!) > ceiling) return false;
    return greatestTop(work, this.#midway, start, end, ceiling) <= ceiling;
  }

  #give(output: Block, to: number, count: number, anyPeak: boolean): void {
    const from = this.#history - this.latencyFrames;
    const skip = Math.max(0, -to);
    if (!anyPeak && this.#curve.resting) {
      this.#curve.rest(count);
      for (let channel = 0; channel < output.length; channel++) {
        copyInto(output[channel]!, to + skip, this.#work[channel]!, from + skip, count - skip);
      }
      return;
    }
    const gains = this.#curve.run(this.#peaks, count, this.#ceiling);
    for (let channel = 0; channel < output.length; channel++) {
      const work = this.#work[channel]!;
      const out = output[channel]!;
      for (let i = skip; i < count; i++) out[to + i] = work[from + i]! * gains[i]!;
    }
  }
}

/** Copies without making a view. */
function copyInto(target: Float32Array, at: number, source: Float32Array, from: number, count: number): void {
  for (let n = 0; n < count; n++) target[at + n] = source[from + n]!;
}

/** Greatest magnitude of the samples [from, to). */
function greatestIn(samples: Float32Array, from: number, to: number): number {
  let high = 0;
  let low = 0;
  for (let n = from; n < to; n++) {
    const value = samples[n]!;
    if (value > high) high = value;
    if (value < low) low = value;
  }
  return Math.max(high, -low);
}
