import type { Block, Meter } from './block.ts';
import { blockLength } from './block.ts';
import { powerToDb } from './decibels.ts';
import { RealFft } from './fft.ts';
import { makeWindow } from './window.ts';

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

const SEGMENT_FRAMES = 4096;
/** One segment in so many is looked at: enough for a mean, and a tenth of the work. */
const SEGMENT_EVERY = 4;
const LONGEST_DELAY_SEC = 0.001;
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
/** Bands so far below the loudest are not heard beside it, dB. */
const BAND_RANGE_DB = 35;

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
  readonly #rateHz: number;
  #channels = 0;
  #firstPower = 0;
  #secondPower = 0;
  #productSum = 0;
  #differencePower = 0;
  readonly #fft = new RealFft(SEGMENT_FRAMES);
  readonly #window = makeWindow('hann', SEGMENT_FRAMES);
  readonly #first = new Float64Array(SEGMENT_FRAMES);
  readonly #second = new Float64Array(SEGMENT_FRAMES);
  #position = 0;
  #segments = 0;
  readonly #firstRe: Float64Array;
  readonly #firstIm: Float64Array;
  readonly #secondRe: Float64Array;
  readonly #secondIm: Float64Array;
  readonly #spectrumFirst: Float64Array;
  readonly #spectrumSecond: Float64Array;
  readonly #crossRe: Float64Array;
  readonly #crossIm: Float64Array;
  readonly #quietest = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  readonly #loudest = [0, 0];

  constructor(rateHz: number) {
    this.#rateHz = rateHz;
    const bins = (): Float64Array => new Float64Array(this.#fft.bins);
    this.#firstRe = bins();
    this.#firstIm = bins();
    this.#secondRe = bins();
    this.#secondIm = bins();
    this.#spectrumFirst = bins();
    this.#spectrumSecond = bins();
    this.#crossRe = bins();
    this.#crossIm = bins();
  }

  add(block: Block): void {
    this.#channels = Math.max(this.#channels, block.length);
    const first = block[0];
    const second = block[1];
    if (first === undefined || second === undefined) return;
    this.#addPowers(first, second);
    const frames = blockLength(block);
    const period = SEGMENT_FRAMES * SEGMENT_EVERY;
    let from = 0;
    while (from < frames) {
      const within = this.#position % period;
      const isLooking = within < SEGMENT_FRAMES;
      const count = Math.min(frames - from, (isLooking ? SEGMENT_FRAMES : period) - within);
      if (isLooking) {
        for (let n = 0; n < count; n++) {
          this.#first[within + n] = first[from + n]!;
          this.#second[within + n] = second[from + n]!;
        }
        if (within + count === SEGMENT_FRAMES) this.#addSegment();
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

  #addSegment(): void {
    const window = this.#window;
    const first = this.#first;
    const second = this.#second;
    const powers = [0, 0];
    for (let n = 0; n < SEGMENT_FRAMES; n++) {
      first[n]! *= window[n]!;
      second[n]! *= window[n]!;
      powers[0]! += first[n]! ** 2;
      powers[1]! += second[n]! ** 2;
    }
    for (let channel = 0; channel < 2; channel++) {
      const power = powers[channel]!;
      if (power > 0 && power < this.#quietest[channel]!) this.#quietest[channel] = power;
      if (power > this.#loudest[channel]!) this.#loudest[channel] = power;
    }
    this.#fft.forward(first, this.#firstRe, this.#firstIm);
    this.#fft.forward(second, this.#secondRe, this.#secondIm);
    for (let k = 0; k < this.#fft.bins; k++) {
      const aRe = this.#firstRe[k]!;
      const aIm = this.#firstIm[k]!;
      const bRe = this.#secondRe[k]!;
      const bIm = this.#secondIm[k]!;
      this.#spectrumFirst[k]! += aRe * aRe + aIm * aIm;
      this.#spectrumSecond[k]! += bRe * bRe + bIm * bIm;
      this.#crossRe[k]! += aRe * bRe + aIm * bIm;
      this.#crossIm[k]! += aIm * bRe - aRe * bIm;
    }
    this.#segments++;
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
    const isStrange = Math.abs(correlation) < STRANGE_CORRELATION && this.#delay().strength < STRANGE_CORRELATION;
    if (Math.abs(levelDifferenceDb) > (isStrange ? DEAD_WHEN_STRANGE_DB : DEAD_DB)) {
      const weights = a > b ? [1, 0] : [0, 1];
      const [dead, live] = a > b ? ['right', 'left'] : ['left', 'right'];
      const note = `Its ${dead} channel holds next to nothing; the ${live} one alone is used.`;
      return planFor('dead', weights, correlation, levelDifferenceDb, 0, 0, note);
    }
    if (this.#differencePower < SAME_POWER_RATIO * (a + b)) {
      return planFor('identical', [0.5, 0.5], correlation, levelDifferenceDb, 0, 0, '');
    }
    const { delaySec, sign: signThere, strength } = this.#delay();
    const isTurned = correlation < 0 && signThere < 0 && (strength > COMB_STRENGTH || correlation < TURNED_CORRELATION);
    const sign = isTurned ? -1 : 1;
    const scale = 1 / Math.sqrt(2 * (a + b));
    const isEven = Math.abs(levelDifferenceDb) < EVEN_DB;
    const weights = isEven ? [0.5, 0.5 * sign] : [Math.sqrt(a) * scale, sign * Math.sqrt(b) * scale];
    const combLossDb = this.#combLossDb(weights[0]!, weights[1]!);
    const isApart = Math.abs(delaySec) >= SHORTEST_COMB_SEC && strength > COMB_STRENGTH;
    if (isApart && combLossDb > COMB_LIMIT_DB) {
      const firstIsBetter = this.#rangeOf(0) >= this.#rangeOf(1);
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

  /** How far a channel's loudest moments stand above its quietest: the one with the lower noise has more. */
  #rangeOf(channel: 0 | 1): number {
    return this.#loudest[channel]! / this.#quietest[channel]!;
  }

  /** Delay of the second channel behind the first, its sign, and how much the two have in common there (0 to 1). */
  #delay(): { delaySec: number; sign: 1 | -1; strength: number } {
    const fallback = { delaySec: 0, sign: this.#productSum < 0 ? -1 : 1, strength: 0 } as const;
    // Coherence of a single segment is 1 whatever it holds.
    if (this.#segments < 4) return fallback;
    const re = new Float64Array(this.#fft.bins);
    const im = new Float64Array(this.#fft.bins);
    let total = 0;
    for (let k = 1; k < this.#fft.bins - 1; k++) {
      const powers = this.#spectrumFirst[k]! * this.#spectrumSecond[k]!;
      if (powers <= 0) continue;
      const crossPower = this.#crossRe[k]! ** 2 + this.#crossIm[k]! ** 2;
      const coherence = Math.max(0, crossPower / powers - 1 / this.#segments);
      // Square roots of the powers, so that the loudest partial does not speak alone.
      const weight = (coherence * powers ** 0.25) / Math.sqrt(crossPower + Number.MIN_VALUE);
      re[k] = weight * this.#crossRe[k]!;
      im[k] = -weight * this.#crossIm[k]!;
      total += powers ** 0.25;
    }
    const correlation = new Float64Array(SEGMENT_FRAMES);
    this.#fft.inverse(re, im, correlation);
    const reach = Math.ceil(LONGEST_DELAY_SEC * this.#rateHz);
    let best = 0;
    const at = (lag: number): number => correlation[(lag + SEGMENT_FRAMES) % SEGMENT_FRAMES]!;
    for (let lag = -reach; lag <= reach; lag++) if (Math.abs(at(lag)) > Math.abs(at(best))) best = lag;
    if (total === 0) return fallback;
    const strength = (Math.abs(at(best)) * SEGMENT_FRAMES) / (2 * total);
    return { delaySec: best / this.#rateHz, sign: at(best) < 0 ? -1 : 1, strength };
  }

  /** Loss of the worst third of an octave against adding the same channels in step, dB. */
  #combLossDb(first: number, second: number): number {
    if (this.#segments < 4) return 0;
    const bands: { added: number; inStep: number }[] = [];
    const binHz = this.#rateHz / SEGMENT_FRAMES;
    for (let k = 2; k < this.#fft.bins - 1; k++) {
      const band = Math.floor(3 * Math.log2((k * binHz) / 20));
      if (band < 0) continue;
      bands[band] ??= { added: 0, inStep: 0 };
      const own = first * first * this.#spectrumFirst[k]! + second * second * this.#spectrumSecond[k]!;
      const both = 2 * first * second;
      bands[band].added += own + both * this.#crossRe[k]!;
      bands[band].inStep += own + Math.abs(both) * Math.hypot(this.#crossRe[k]!, this.#crossIm[k]!);
    }
    const there = bands.filter((band) => band !== undefined);
    const loudest = Math.max(0, ...there.map((band) => band.inStep));
    const heard = there.filter((band) => band.inStep > loudest * 10 ** (-BAND_RANGE_DB / 10));
    return Math.max(0, ...heard.map((band) => powerToDb(band.inStep / Math.max(band.added, band.inStep * 1e-6))));
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
