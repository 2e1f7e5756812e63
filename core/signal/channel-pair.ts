import { powerToDb } from './decibels.ts';
import { RealFft } from './fft.ts';
import { makeWindow } from './window.ts';

/** Frames of a segment that is looked at. */
export const PAIR_FRAMES = 4096;
const LONGEST_DELAY_SEC = 0.001;
/** Bands so far below the loudest are not heard beside it, dB. */
const BAND_RANGE_DB = 35;

/**
 * What two channels have in common, from segments of PAIR_FRAMES: the delay and polarity of the second against the first, by the
 * cross-spectrum weighted by coherence (Knapp, Carter 1976, IEEE Trans. ASSP 24(4)), what adding them would take away, and how far each
 * stands above its own quietest moment. Memory: some arrays of 4096 numbers.
 */
export class ChannelPair {
  readonly #rateHz: number;
  readonly #fft = new RealFft(PAIR_FRAMES);
  readonly #window = makeWindow('hann', PAIR_FRAMES);
  readonly #first = new Float64Array(PAIR_FRAMES);
  readonly #second = new Float64Array(PAIR_FRAMES);
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

  /** Puts down `count` frames of both channels, read from `from` on, at frame `at` of the segment. */
  put(first: Float32Array, second: Float32Array, from: number, count: number, at: number): void {
    for (let n = 0; n < count; n++) {
      this.#first[at + n] = first[from + n]!;
      this.#second[at + n] = second[from + n]!;
    }
  }

  /** Takes in the segment that was put down. */
  addSegment(): void {
    const window = this.#window;
    const first = this.#first;
    const second = this.#second;
    const powers = [0, 0];
    for (let n = 0; n < PAIR_FRAMES; n++) {
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

  /** How far a channel's loudest moments stand above its quietest: the one with the lower noise has more. */
  rangeOf(channel: 0 | 1): number {
    return this.#loudest[channel]! / this.#quietest[channel]!;
  }

  /** Delay of the second channel behind the first, its sign, and how much the two have in common there (0 to 1). usual: the sign where that is not known. */
  delay(usual: 1 | -1): { delaySec: number; sign: 1 | -1; strength: number } {
    const fallback = { delaySec: 0, sign: usual, strength: 0 } as const;
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
    const correlation = new Float64Array(PAIR_FRAMES);
    this.#fft.inverse(re, im, correlation);
    const reach = Math.ceil(LONGEST_DELAY_SEC * this.#rateHz);
    let best = 0;
    const at = (lag: number): number => correlation[(lag + PAIR_FRAMES) % PAIR_FRAMES]!;
    for (let lag = -reach; lag <= reach; lag++) if (Math.abs(at(lag)) > Math.abs(at(best))) best = lag;
    if (total === 0) return fallback;
    const strength = (Math.abs(at(best)) * PAIR_FRAMES) / (2 * total);
    return { delaySec: best / this.#rateHz, sign: at(best) < 0 ? -1 : 1, strength };
  }

  /** Loss of the worst third of an octave against adding the same channels in step, dB. */
  combLossDb(first: number, second: number): number {
    if (this.#segments < 4) return 0;
    const bands: { added: number; inStep: number }[] = [];
    const binHz = this.#rateHz / PAIR_FRAMES;
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
