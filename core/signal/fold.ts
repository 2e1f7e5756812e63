import type { Block, Meter } from './block.ts';
import { blockLength } from './block.ts';
import { ChannelPair, PAIR_FRAMES } from './channel-pair.ts';
import { powerToDb } from './decibels.ts';

/** Why the channels are folded as they are. */
export type FoldReason =
  /** There is only one. */
  | 'mono'
  /** Both hold the same samples. */
  | 'identical'
  /** Both hold the same sound; their noise differs. */
  | 'pair'
  /** One holds the same sound upside down. */
  | 'opposite'
  /** One holds nothing, or next to nothing. */
  | 'dead'
  /** Both hold the sound, but at times so different that together they would cancel at some pitches. */
  | 'comb';

/** How the channels of one take become one. Plain values: it can be kept and shown. */
export interface FoldPlan {
  readonly reason: FoldReason;
  /** What each channel is multiplied by before they are added; negative turns it over, 0 leaves it out. */
  readonly weights: readonly number[];
  /** Correlation of the first two channels without delay, -1 to 1; 0 where one is silent or there is but one. */
  readonly correlation: number;
  /** Level of the first channel above the second, dB; infinite where one is silent, 0 where there is but one. */
  readonly levelDifferenceDb: number;
  /** By how much the second channel hears the sound later than the first, s; found within 1 ms, else 0. */
  readonly delaySec: number;
  /** What adding the channels would take from the third of an octave it harms most, dB, 0 or more. */
  readonly combLossDb: number;
  /** What was found and done, one plain sentence; empty where there is nothing to tell. */
  readonly note: string;
}

/** One segment in so many is looked at: enough for a mean, and a tenth of the work. */
const SEGMENT_EVERY = 4;
/** Two channels this much apart: the weaker is dead, dB. It would add noise and nothing else. */
const DEAD_DB = 30;
/** The same where the two have nothing in common, dB: a microphone that is not plugged in still hisses. */
const DEAD_WHEN_STRANGE_DB = 12;
const STRANGE_CORRELATION = 0.1;
/** Samples that differ by less than this part of their power are the same: -70 dB, below 12-bit coding noise. */
const SAME_POWER_RATIO = 1e-7;
/** A third of an octave may lose this much by adding before one channel alone is better, dB: what adding gains in noise. */
const COMB_LIMIT_DB = 3;
/**
 * Only one sound heard twice makes a comb: a delay of at least this, s, and at least so much in common at it. The two
 * sides of a room also cancel here and there, but there the sum is the better take of the two (measured: 15 dB).
 */
const SHORTEST_COMB_SEC = 0.00008;
const COMB_STRENGTH = 0.3;
/** Correlation below which channels are of opposite polarity whatever else is known. */
const TURNED_CORRELATION = -0.5;
/** Channels nearer than this are added as they are, dB: weighting them by level would gain less than 0.5 dB. */
const EVEN_DB = 6;
/**
 * Looks once through a take's channels and tells how to fold them into one without loss of level. Two channels of about
 * one level are averaged; else weights in proportion to their levels give the best signal-to-noise ratio at equal noise
 * (maximal-ratio combining, Brennan 1959, Proc. IRE 47), scaled so that a sound that both hold keeps its mean power.
 *
 * Polarity and delay come from the cross-spectrum weighted by coherence (Knapp, Carter 1976, IEEE Trans. ASSP 24(4)).
 * In: one or more channels, full scale 1. Only the first two are weighed; more are left out and the note says so.
 * Memory: some arrays of 4096 numbers.
 */
export class FoldMeter implements Meter<FoldPlan> {
  readonly #pair: ChannelPair;
  #channels = 0;
  #firstPower = 0;
  #secondPower = 0;
  #productSum = 0;
  #differencePower = 0;
  #position = 0;

  constructor(rateHz: number) {
    this.#pair = new ChannelPair(rateHz);
  }

  add(block: Block): void {
    this.#channels = Math.max(this.#channels, block.length);
    const first = block[0];
    const second = block[1];
    if (first === undefined || second === undefined) return;
    this.#addPowers(first, second);
    const frames = blockLength(block);
    const period = PAIR_FRAMES * SEGMENT_EVERY;
    let from = 0;
    while (from < frames) {
      const within = this.#position % period;
      const isLooking = within < PAIR_FRAMES;
      const count = Math.min(frames - from, (isLooking ? PAIR_FRAMES : period) - within);
      if (isLooking) {
        this.#pair.put(first, second, from, count, within);
        if (within + count === PAIR_FRAMES) this.#pair.addSegment();
      }
      from += count;
      this.#position += count;
    }
  }

  #addPowers(first: Float32Array, second: Float32Array): void {
    let firstPower = 0;
    let secondPower = 0;
    let product = 0;
    let difference = 0;
    for (let n = 0; n < first.length; n++) {
      const a = first[n]!;
      const b = second[n]!;
      firstPower += a * a;
      secondPower += b * b;
      product += a * b;
      difference += (a - b) * (a - b);
    }
    this.#firstPower += firstPower;
    this.#secondPower += secondPower;
    this.#productSum += product;
    this.#differencePower += difference;
  }

  result(): FoldPlan {
    if (this.#channels < 2) return MONO_PLAN;
    const plan = this.#planForTwo();
    if (this.#channels === 2) return plan;
    const rest = new Array<number>(this.#channels - 2).fill(0);
    const note = `Of its ${this.#channels} channels the first two are used. ${plan.note}`.trim();
    return { ...plan, weights: [...plan.weights, ...rest], note };
  }

  #planForTwo(): FoldPlan {
    const a = this.#firstPower;
    const b = this.#secondPower;
    if (a === 0 && b === 0) return planFor('identical', [0.5, 0.5], 0, 0, 0, 0, '');
    const levelDifferenceDb = powerToDb(a) - powerToDb(b);
    const correlation = a > 0 && b > 0 ? this.#productSum / Math.sqrt(a * b) : 0;
    const { delaySec, sign: signThere, strength } = this.#pair.delay(this.#productSum < 0 ? -1 : 1);
    const isStrange = Math.abs(correlation) < STRANGE_CORRELATION && strength < STRANGE_CORRELATION;
    if (Math.abs(levelDifferenceDb) > (isStrange ? DEAD_WHEN_STRANGE_DB : DEAD_DB)) {
      const weights = a > b ? [1, 0] : [0, 1];
      const [dead, live] = a > b ? ['right', 'left'] : ['left', 'right'];
      const note = `Its ${dead} channel holds next to nothing; the ${live} one alone is used.`;
      return planFor('dead', weights, correlation, levelDifferenceDb, 0, 0, note);
    }
    if (this.#differencePower < SAME_POWER_RATIO * (a + b)) {
      return planFor('identical', [0.5, 0.5], correlation, levelDifferenceDb, 0, 0, '');
    }
    const isTurned = correlation < 0 && signThere < 0 && (strength > COMB_STRENGTH || correlation < TURNED_CORRELATION);
    const sign = isTurned ? -1 : 1;
    const scale = 1 / Math.sqrt(2 * (a + b));
    const isEven = Math.abs(levelDifferenceDb) < EVEN_DB;
    const weights = isEven ? [0.5, 0.5 * sign] : [Math.sqrt(a) * scale, sign * Math.sqrt(b) * scale];
    const combLossDb = this.#pair.combLossDb(weights[0]!, weights[1]!);
    const isApart = Math.abs(delaySec) >= SHORTEST_COMB_SEC && strength > COMB_STRENGTH;
    if (isApart && combLossDb > COMB_LIMIT_DB) {
      const firstIsBetter = this.#pair.rangeOf(0) >= this.#pair.rangeOf(1);
      const [used, left] = firstIsBetter ? ['left', 'right'] : ['right', 'left'];
      const note = `Its two microphones hear the sound ${(Math.abs(delaySec) * 1000).toFixed(2)} ms apart and would cancel each other at some pitches (by ${combLossDb.toFixed(1)} dB); the ${used} channel alone is used, the ${left} one left out.`;
      return planFor(
        'comb',
        firstIsBetter ? [1, 0] : [0, 1],
        correlation,
        levelDifferenceDb,
        delaySec,
        combLossDb,
        note,
      );
    }
    if (sign < 0) {
      const note = 'Its two channels are of opposite polarity; the right one is turned over before they are added.';
      return planFor('opposite', weights, correlation, levelDifferenceDb, delaySec, combLossDb, note);
    }
    return planFor('pair', weights, correlation, levelDifferenceDb, delaySec, combLossDb, '');
  }
}

/** Of a take that has one channel. */
export const MONO_PLAN: FoldPlan = planFor('mono', [1], 0, 0, 0, 0, '');

function planFor(
  reason: FoldReason,
  weights: readonly number[],
  correlation: number,
  levelDifferenceDb: number,
  delaySec: number,
  combLossDb: number,
  note: string,
): FoldPlan {
  return { reason, weights, correlation, levelDifferenceDb, delaySec, combLossDb, note };
}

/**
 * Folds the channels of a block into one, as planned. out: at least as long as the block; its first frames are
 * overwritten. Channels without a weight are left out.
 */
export function fold(block: Block, plan: FoldPlan, out: Float32Array): void {
  const frames = blockLength(block);
  out.fill(0, 0, frames);
  for (const [channel, samples] of block.entries()) {
    const weight = plan.weights[channel] ?? 0;
    if (weight === 0) continue;
    for (let n = 0; n < frames; n++) out[n]! += weight * samples[n]!;
  }
}
