import { periodsOf } from './own-breaks.ts';
import { centsOf } from './pitch-span.ts';
import type { PitchTrack } from './pitch-tracker.ts';

/** Half of the time over which a level rises, steps of 2 ms. */
const HALF_RISE = 7;
const LEAST_HALF = 2;

/**
 * A take step by step (2 ms) in the light of its pitch: each value is taken over one and a half periods of the note, at least 10 ms,
 * since a low note's level moves within each of its periods.
 */
export class FineSeries {
  readonly stepSec: number;
  readonly steps: number;
  /** Level, brightness (second difference) and what does not repeat (own-breaks.ts), dB. */
  readonly levels: Float64Array;
  readonly bright: Float64Array;
  readonly breaks: Float64Array;
  /** How much the level rises over 28 ms about each step, dB. */
  readonly rises: Float64Array;
  /** Cents above A4 = 440 Hz of each frame, NaN where there is no pitch. */
  readonly cents: Float64Array;
  /** What does not repeat of the pitched steps that repeat best (a tenth): the noise, dB. */
  readonly restDb: number;
  /** Of the loudest steps of the take, dB: 5 % lie above. */
  readonly loudDb: number;
  readonly #track: PitchTrack;
  readonly #periods: Float64Array;

  constructor(track: PitchTrack) {
    const { stepPowers, brightPowers, stepSec } = track;
    this.#track = track;
    this.stepSec = stepSec;
    this.steps = stepPowers.length;
    this.cents = track.hz.map((hz) => centsOf(hz));
    this.#periods = periodsOf(track);
    this.levels = this.#smoothed(stepPowers);
    this.bright = this.#smoothed(brightPowers);
    this.breaks = this.#smoothed(track.breakPowers);
    this.rises = new Float64Array(this.steps);
    for (let step = HALF_RISE; step + HALF_RISE < this.steps; step++) {
      this.rises[step] = this.levels[step + HALF_RISE]! - this.levels[step - HALF_RISE]!;
    }
    const sorted = Float64Array.from(stepPowers).sort();
    const pitched = this.breaks.filter((_, step) => !Number.isNaN(this.cents[this.frameAt(step)]!)).sort();
    this.restDb = pitched[Math.floor(0.1 * (pitched.length - 1))] ?? decibels(0);
    this.loudDb = decibels(sorted[Math.floor(0.95 * (sorted.length - 1))] ?? 0);
  }

  frameAt(step: number): number {
    const { firstSec, hopSec, hz } = this.#track;
    return Math.max(0, Math.min(hz.length - 1, Math.round(((step + 0.5) * this.stepSec - firstSec) / hopSec)));
  }

  /** Of a note's pitch, octaves above A4. */
  octaveAt(step: number): number {
    return Math.log2(this.#track.samplesHz / this.#periods[this.frameAt(step)]! / 440);
  }

  #smoothed(powers: Float64Array): Float64Array {
    const sums = new Float64Array(this.steps + 1);
    for (let step = 0; step < this.steps; step++) sums[step + 1] = sums[step]! + powers[step]!;
    const stepFrames = this.stepSec * this.#track.samplesHz;
    const smooth = new Float64Array(this.steps);
    for (let step = 0; step < this.steps; step++) {
      const half = Math.max(LEAST_HALF, Math.ceil((0.75 * this.#periods[this.frameAt(step)]!) / stepFrames));
      const from = Math.max(0, step - half);
      const to = Math.min(this.steps, step + half + 1);
      smooth[step] = decibels((sums[to]! - sums[from]!) / (to - from));
    }
    return smooth;
  }
}

export function decibels(power: number): number {
  return 10 * Math.log10(power + 1e-14);
}

/** Greatest value of a row from one place to another, both with; those beyond its ends do not count. */
export function greatest(row: Float64Array, from: number, to: number): number {
  let most = Number.NEGATIVE_INFINITY;
  for (let n = Math.max(0, from); n <= Math.min(row.length - 1, to); n++) most = Math.max(most, row[n]!);
  return most;
}

export function least(row: Float64Array, from: number, to: number): number {
  let most = Number.POSITIVE_INFINITY;
  for (let n = Math.max(0, from); n <= Math.min(row.length - 1, to); n++) most = Math.min(most, row[n]!);
  return most;
}
