import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { slowReader } from './break-pulses.ts';
import { SlowCopy } from './slow-copy.ts';

/** A partial that sounds before and after a moment. */
export interface PartialStep {
  /** Mean of its frequencies before and after, Hz. */
  readonly hz: number;
  /** How far its phase after lies ahead of where its own frequency would have taken it, radians, -pi to pi. */
  readonly turn: number;
  /** One standard deviation of the turn where nothing was cut, radians. */
  readonly turnError: number;
  /** Level after over level before, dB. */
  readonly stepDb: number;
  /** Share of the power of all partials, 0 to 1. */
  readonly share: number;
}

/** What the partials do at a moment. */
export interface PartialSteps {
  readonly partials: readonly PartialStep[];
  /** Share of the power of all partials on both sides that lies in those which go on, 0 to 1. */
  readonly carried: number;
}

/** About this rate is listened at: the phases of higher partials stray too far to tell anything. */
const RATE_HZ = 12000;
const SIZE = 2048;
/** Left out on either side of the moment, s: it is known so well. */
const GUARD_SEC = 0.0015;
/** How much of either side is heard, s: short for high notes and their vibrato, long for low ones. */
export const WINDOWS_SEC = [0.02, 0.035, 0.06] as const;
const REACH_SEC = 0.06;
/** Partials are peaks so far over what lies around, and at most this far below the strongest, dB. */
const OVER_DB = 12;
const BELOW_DB = 45;
const MOST_PARTIALS = 24;
const FLOOR_BINS = 128;
/** A partial that goes on changes its frequency by no more than this, as a share and in widths of the window's lobe. */
const GLIDE = 0.02;
const LOBE = 0.35;

interface Peak {
  readonly hz: number;
  readonly power: number;
  readonly phase: number;
  readonly overDb: number;
}

/** Listens to partials before and after moments of a sound. */
export class PartialListener {
  readonly #sound: Sound;
  readonly #rate: number;
  readonly #heard: Float64Array;
  readonly #fft = new RealFft(SIZE);
  readonly #row = new Float64Array(SIZE);
  readonly #re = new Float64Array(SIZE / 2 + 1);
  readonly #im = new Float64Array(SIZE / 2 + 1);
  readonly #power = new Float64Array(SIZE / 2 + 1);
  readonly #floor = new Float64Array(SIZE / 2 / FLOOR_BINS);
  readonly #part = new Float64Array(FLOOR_BINS / 4);

  constructor(sound: Sound) {
    this.#sound = sound;
    this.#rate = new SlowCopy(sound.rateHz, RATE_HZ).rateHz;
    this.#heard = new Float64Array(2 * Math.round((REACH_SEC + GUARD_SEC) * this.#rate));
  }

  /** What the partials do at a moment in the sound's own time, s, heard through each of WINDOWS_SEC. */
  at(atSec: number): PartialSteps[] {
    this.#hear(atSec);
    return WINDOWS_SEC.map((windowSec) => this.#through(windowSec));
  }

  /** Mean power of the moment heard last, from one time to another, s from it, -0.06 to 0.06. */
  powerBetween(fromSec: number, toSec: number): number {
    const middle = this.#heard.length / 2;
    const from = middle + Math.round(fromSec * this.#rate);
    const to = middle + Math.round(toSec * this.#rate);
    let sum = 0;
    for (let n = from; n < to; n++) sum += this.#heard[n]! ** 2;
    return sum / (to - from) + 1e-12;
  }

  #hear(atSec: number): void {
    const heard = this.#heard;
    const slow = new SlowCopy(this.#sound.rateHz, RATE_HZ);
    slowReader(this.#sound, slow, Math.round(atSec * this.#rate) - heard.length / 2)(heard);
  }

  #through(windowSec: number): PartialSteps {
    const length = Math.round(windowSec * this.#rate);
    const guard = Math.round(GUARD_SEC * this.#rate);
    const middle = this.#heard.length / 2;
    const before = this.#peaks(this.#heard.subarray(middle - guard - length, middle - guard));
    const after = this.#peaks(this.#heard.subarray(middle + guard, middle + guard + length));
    const distanceSec = (length + 2 * guard) / this.#rate;
    const partials: PartialStep[] = [];
    let all = 0;
    for (const peak of [...before, ...after]) all += peak.power;
    for (const peak of before) {
      const other = nearest(after, peak.hz);
      const reach = Math.min(GLIDE * peak.hz, LOBE / windowSec);
      if (other === undefined || Math.abs(other.hz - peak.hz) > reach || nearest(before, other.hz) !== peak) continue;
      const hz = 0.5 * (peak.hz + other.hz);
      partials.push({
        hz,
        turn: wrapped(other.phase - peak.phase - 2 * Math.PI * hz * distanceSec),
        turnError: turnErrorOf(peak, other, distanceSec),
        stepDb: 10 * Math.log10(other.power / peak.power),
        share: (peak.power + other.power) / all,
      });
    }
    return { partials, carried: partials.reduce((sum, { share }) => sum + share, 0) };
  }

  /** What lies around partials, noise or the gaps between them: the lower quartile of every FLOOR_BINS bins. */
  #learnFloor(): void {
    const part = this.#part;
    for (let n = 0; n < this.#floor.length; n++) {
      for (let k = 0; k < part.length; k++) part[k] = this.#power[n * FLOOR_BINS + 4 * k]!;
      part.sort();
      // The quartile of noise lies at 0.288 of its mean.
      this.#floor[n] = part[part.length >> 2]! / 0.288;
    }
  }

  #floorAt(k: number): number {
    const place = Math.max(0, Math.min(this.#floor.length - 1.001, k / FLOOR_BINS - 0.5));
    const n = Math.floor(place);
    return this.#floor[n]! + (place - n) * (this.#floor[n + 1]! - this.#floor[n]!);
  }

  /** Peaks of a Hann spectrum; phases are those of the window's middle. */
  #peaks(samples: Float64Array): Peak[] {
    const row = this.#row;
    const half = samples.length >> 1;
    row.fill(0);
    for (let n = 0; n < samples.length; n++) {
      const weight = 0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 0.5)) / samples.length);
      // The middle lies at place zero, so that the phase does not turn along a lobe.
      row[(n - half + SIZE) % SIZE] = weight * samples[n]!;
    }
    this.#fft.forward(row, this.#re, this.#im);
    const power = this.#power;
    for (let k = 0; k < power.length; k++) power[k] = this.#re[k]! ** 2 + this.#im[k]! ** 2 + 1e-20;
    const lobe = Math.ceil((2 * SIZE) / samples.length);
    this.#learnFloor();
    const found: Peak[] = [];
    let most = 0;
    for (let k = lobe; k < power.length - lobe; k++) {
      if (power[k]! < power[k - 1]! || power[k]! < power[k + 1]! || !isHighest(power, k, lobe >> 1)) continue;
      most = Math.max(most, power[k]!);
      const overDb = 10 * Math.log10(power[k]! / this.#floorAt(k));
      if (overDb < OVER_DB) continue;
      const [a, b, c] = [Math.log(power[k - 1]!), Math.log(power[k]!), Math.log(power[k + 1]!)];
      const bend = a - 2 * b + c;
      const hz = ((k + (bend < 0 ? (0.5 * (a - c)) / bend : 0)) * this.#rate) / SIZE;
      // The middle of an even number of samples lies half a sample before place zero.
      const phase = Math.atan2(this.#im[k]!, this.#re[k]!) - (Math.PI * hz) / this.#rate;
      found.push({ hz, power: power[k]!, phase, overDb });
    }
    const least = most * 10 ** (-BELOW_DB / 10);
    return found
      .filter((peak) => peak.power > least)
      .sort((a, b) => b.power - a.power)
      .slice(0, MOST_PARTIALS);
  }
}

/**
 * The mean of the two frequencies tells the turn of a partial that glides evenly. What is left: noise; pitch that wanders;
 * the bend of a vibrato, 2 pi f'' D^3 / 12. The factors are the likeliest on held notes without cuts of six instruments
 * of sampled takes (violin, contrabass, oboe, bassoon, tuba, bass guitar) and were as likely on six others.
 */
function turnErrorOf(before: Peak, after: Peak, distanceSec: number): number {
  const hz = 0.5 * (before.hz + after.hz);
  const noise = 1.1 * 10 ** (-Math.min(before.overDb, after.overDb) / 20);
  const glide = 1.5 * Math.abs(after.hz - before.hz) * distanceSec;
  return Math.hypot(0.05, noise, glide, 0.003 * hz * distanceSec, 0.4 * hz * distanceSec ** 3);
}

function isHighest(power: Float64Array, k: number, reach: number): boolean {
  for (let j = k - reach; j <= k + reach; j++) if (power[j]! > power[k]!) return false;
  return true;
}

function nearest(peaks: readonly Peak[], hz: number): Peak | undefined {
  let found: Peak | undefined;
  for (const peak of peaks) {
    if (found === undefined || Math.abs(peak.hz - hz) < Math.abs(found.hz - hz)) found = peak;
  }
  return found;
}

function wrapped(angle: number): number {
  return angle - 2 * Math.PI * Math.round(angle / (2 * Math.PI));
}

/** Share of partials whose phase says nothing: another voice, an echo of the room. */
const ASTRAY = 0.1;
const TURN_CELLS = 256;

/** Tables of what a turn says, by its error in steps of a twelfth of an octave: the errors are known no better. */
const tables = new Map<number, Float64Array>();

/** Von Mises' density over the even one, and some turns that say nothing; logarithm. */
function tableOf(turnError: number): Float64Array {
  const step = Math.min(48, Math.round(12 * Math.log2(turnError)));
  let table = tables.get(step);
  if (table === undefined) {
    const sharp = 2 ** (-step / 6);
    const over = (1 - ASTRAY) / scaledBessel0(sharp);
    table = Float64Array.from({ length: TURN_CELLS }, (_, n) =>
      Math.log(over * Math.exp(sharp * (Math.cos((2 * Math.PI * n) / TURN_CELLS) - 1)) + ASTRAY),
    );
    tables.set(step, table);
  }
  return table;
}

/** What the turns of partials say of sound that was lost or doubled at their moment. */
export class Turns {
  readonly #hz: Float64Array;
  readonly #tables: Float64Array[];
  readonly #cells: Float64Array;

  constructor({ partials }: PartialSteps) {
    this.#hz = Float64Array.from(partials, ({ hz }) => hz);
    this.#cells = Float64Array.from(partials, ({ turn }) => (turn / (2 * Math.PI)) * TURN_CELLS);
    this.#tables = partials.map(({ turnError }) => tableOf(turnError));
  }

  /** What they say at most, of any amount, nepers. */
  get most(): number {
    return this.#tables.reduce((sum, table) => sum + table[0]!, 0);
  }

  /** How likely they are where dSec of sound were lost (negative: doubled), over chance, nepers. */
  say(dSec: number): number {
    let sum = 0;
    for (let k = 0; k < this.#tables.length; k++) {
      const cell = Math.round(this.#cells[k]! - this.#hz[k]! * dSec * TURN_CELLS);
      sum += this.#tables[k]![cell & (TURN_CELLS - 1)]!;
    }
    return sum;
  }
}

/** Modified Bessel function of order 0 times exp(-x) (Abramowitz and Stegun 9.8.1 and 9.8.2, first terms; within 1 %). */
function scaledBessel0(x: number): number {
  if (x < 3.75) {
    const t = (x / 3.75) ** 2;
    return Math.exp(-x) * (1 + t * (3.5156229 + t * (3.0899424 + t * (1.2067492 + t * (0.2659732 + t * 0.0360768)))));
  }
  const t = 3.75 / x;
  return (0.39894228 + t * (0.01328592 + t * (0.00225319 - t * 0.00157565))) / Math.sqrt(x);
}
