import { periodsOf } from './own-breaks.ts';
import { centsOf } from './pitch-span.ts';
import type { PitchTrack } from './pitch-tracker.ts';
import { valueAtRank } from './rank.ts';

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
  readonly #frames: Int32Array;

  constructor(track: PitchTrack) {
    const { stepPowers, brightPowers, stepSec } = track;
    this.#track = track;
    this.stepSec = stepSec;
    this.steps = stepPowers.length;
    this.cents = track.hz.map((hz) => centsOf(hz));
    this.#periods = periodsOf(track);
    this.#frames = new Int32Array(this.steps);
    for (let step = 0; step < this.steps; step++) this.#frames[step] = this.#nearestFrame(step);
    const halves = this.#halvesOf(track);
    this.levels = smoothed(stepPowers, halves);
    this.bright = smoothed(brightPowers, halves);
    this.breaks = smoothed(track.breakPowers, halves);
    this.rises = new Float64Array(this.steps);
    for (let step = HALF_RISE; step + HALF_RISE < this.steps; step++) {
      this.rises[step] = this.levels[step + HALF_RISE]! - this.levels[step - HALF_RISE]!;
    }
    const pitched = this.#pitchedBreaks();
    this.restDb = pitched.length === 0 ? decibels(0) : valueAtRank(pitched, Math.floor(0.1 * (pitched.length - 1)));
    const powers = Float64Array.from(stepPowers);
    this.loudDb = decibels(powers.length === 0 ? 0 : valueAtRank(powers, Math.floor(0.95 * (powers.length - 1))));
  }

  /** The frame that lies nearest to a step of the take. */
  frameAt(step: number): number {
    return this.#frames[step] ?? this.#nearestFrame(step);
  }

  #nearestFrame(step: number): number {
    const { firstSec, hopSec, hz } = this.#track;
    return Math.max(0, Math.min(hz.length - 1, Math.round(((step + 0.5) * this.stepSec - firstSec) / hopSec)));
  }

  /** Of a note's pitch, octaves above A4. */
  octaveAt(step: number): number {
    return Math.log2(this.#track.samplesHz / this.#periods[this.frameAt(step)]! / 440);
  }

  /** Half of the steps that each step's values are taken over. */
  #halvesOf({ samplesHz }: PitchTrack): Int32Array {
    const stepFrames = this.stepSec * samplesHz;
    const ofFrames = this.#periods.map((period) => Math.max(LEAST_HALF, Math.ceil((0.75 * period) / stepFrames)));
    const halves = new Int32Array(this.steps);
    for (let step = 0; step < this.steps; step++) halves[step] = ofFrames[this.#frames[step]!]!;
    return halves;
  }

  #pitchedBreaks(): Float64Array {
    const pitched = new Float64Array(this.steps);
    let count = 0;
    for (let step = 0; step < this.steps; step++) {
      if (!Number.isNaN(this.cents[this.#frames[step]!]!)) pitched[count++] = this.breaks[step]!;
    }
    return pitched.subarray(0, count);
  }
}

function smoothed(powers: Float64Array, halves: Int32Array): Float64Array {
  const steps = halves.length;
  const sums = new Float64Array(steps + 1);
  for (let step = 0; step < steps; step++) sums[step + 1] = sums[step]! + powers[step]!;
  const smooth = new Float64Array(steps);
  for (let step = 0; step < steps; step++) {
    const from = Math.max(0, step - halves[step]!);
    const to = Math.min(steps, step + halves[step]! + 1);
    smooth[step] = decibels((sums[to]! - sums[from]!) / (to - from));
  }
  return smooth;
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
