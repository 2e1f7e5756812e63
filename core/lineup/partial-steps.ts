import type { Sound } from '../signal/sound.ts';
import { SlowStream } from './break-pulses.ts';
import { SlowCopy } from './slow-copy.ts';
import { type Peak, PeakFinder } from './spectrum-peaks.ts';

/** A partial that sounds before and after a moment. */
export interface PartialStep {
  /** Mean of its frequencies before and after, Hz. */
  readonly hz: number;
  /** How far they lie apart, Hz. */
  readonly glideHz: number;
  /** How far its phase after lies ahead of where its own frequency would have taken it, radians, -pi to pi. */
  readonly turn: number;
  /** How far it stands over what lies around, on the side where it does so less, dB. */
  readonly overDb: number;
  /** Level after over level before, dB. */
  readonly stepDb: number;
  /** Share of the power of all partials, 0 to 1. */
  readonly share: number;
}

/** What the partials do at a moment. */
export interface PartialSteps {
  readonly partials: readonly PartialStep[];
  /** Time from the middle of what was heard before to that of what was heard after, s. */
  readonly distanceSec: number;
  /** Share of the power of all partials on both sides that lies in those which go on, 0 to 1. */
  readonly carried: number;
}

/** About this rate is listened at: the phases of higher partials stray too far to tell anything. */
export const PARTIAL_RATE_HZ = 12000;
/** Left out on either side of the moment, s: it is known so well. */
const GUARD_SEC = 0.0015;
/** How much of either side is heard, s: short for high notes and their vibrato, long for low ones. */
export const WINDOWS_SEC = [0.02, 0.035, 0.06] as const;
const REACH_SEC = 0.06;
/** A partial that goes on changes its frequency by no more than this, as a share and in widths of the window's lobe. */
const GLIDE = 0.02;
const LOBE = 0.35;

/** Listens to partials before and after moments of a sound. */
export class PartialListener {
  readonly #stream: SlowStream;
  readonly #rate: number;
  readonly #heard: Float64Array;
  readonly #finder: PeakFinder;

  constructor(sound: Sound) {
    const slow = new SlowCopy(sound.rateHz, PARTIAL_RATE_HZ);
    this.#rate = slow.rateHz;
    this.#finder = new PeakFinder(this.#rate);
    this.#heard = new Float64Array(2 * Math.round((REACH_SEC + GUARD_SEC) * this.#rate));
    // What is heard comes in two pieces, and little more is read.
    this.#stream = new SlowStream(sound, slow, (this.#heard.length >> 1) + 4);
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
    this.#stream.seek(Math.round(atSec * this.#rate) - this.#heard.length / 2);
    this.#stream.read(this.#heard);
  }

  #through(windowSec: number): PartialSteps {
    const length = Math.round(windowSec * this.#rate);
    const guard = Math.round(GUARD_SEC * this.#rate);
    const middle = this.#heard.length / 2;
    const before = this.#finder.find(this.#heard.subarray(middle - guard - length, middle - guard));
    const after = this.#finder.find(this.#heard.subarray(middle + guard, middle + guard + length));
    return stepsBetween(before, after, windowSec, (length + 2 * guard) / this.#rate);
  }
}

/** Partials of one stretch, windowSec long, that go on in another, whose middle lies distanceSec later. */
export function stepsBetween(
  before: readonly Peak[],
  after: readonly Peak[],
  windowSec: number,
  distanceSec: number,
): PartialSteps {
  const partials: PartialStep[] = [];
  let all = 0;
  for (const { power } of before) all += power;
  for (const { power } of after) all += power;
  for (const peak of before) {
    const other = nearest(after, peak.hz);
    const reach = Math.min(GLIDE * peak.hz, LOBE / windowSec);
    if (other === undefined || Math.abs(other.hz - peak.hz) > reach || nearest(before, other.hz) !== peak) continue;
    const hz = 0.5 * (peak.hz + other.hz);
    partials.push({
      hz,
      glideHz: Math.abs(other.hz - peak.hz),
      turn: wrapped(other.phase - peak.phase - 2 * Math.PI * hz * distanceSec),
      overDb: Math.min(peak.overDb, other.overDb),
      stepDb: 10 * Math.log10(other.power / peak.power),
      share: (peak.power + other.power) / all,
    });
  }
  return { partials, distanceSec, carried: partials.reduce((sum, { share }) => sum + share, 0) };
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

/** Amounts are alike to this, s, as far as errors go. */
const ERROR_STEP_SEC = 0.005;
const ERROR_STEPS = 10;

/** What the turns of partials say of sound that was lost or doubled at their moment, 0.05 s at most. */
export class Turns {
  readonly #steps: PartialSteps;
  readonly #hz: Float64Array;
  readonly #cells: Float64Array;
  readonly #noise: Float64Array;
  /** A row of tables for every step of the amount, made when it is asked for. */
  readonly #tables: (readonly Float64Array[] | undefined)[] = [];

  constructor(steps: PartialSteps) {
    this.#steps = steps;
    this.#hz = Float64Array.from(steps.partials, ({ hz }) => hz);
    this.#cells = Float64Array.from(steps.partials, ({ turn }) => (turn / (2 * Math.PI)) * TURN_CELLS);
    this.#noise = Float64Array.from(steps.partials, ({ overDb }) => 1.1 * 10 ** (-overDb / 20));
  }

  /** What they say at most, of any amount, nepers. */
  get most(): number {
    return this.#tablesOf(0).reduce((sum, table) => sum + table[0]!, 0);
  }

  /** How likely they are where dSec of sound were lost (negative: doubled), over chance, nepers. */
  say(dSec: number): number {
    const row = this.#tablesOf(Math.round(dSec / ERROR_STEP_SEC));
    let sum = 0;
    for (let k = 0; k < row.length; k++) {
      const cell = Math.round(this.#cells[k]! - this.#hz[k]! * dSec * TURN_CELLS);
      sum += row[k]![cell & (TURN_CELLS - 1)]!;
    }
    return sum;
  }

  /** The same for many amounts, s, rising. */
  sayAll(amounts: Float64Array, target: Float64Array): void {
    for (let from = 0; from < amounts.length; ) {
      const step = Math.round(amounts[from]! / ERROR_STEP_SEC);
      let to = from + 1;
      while (to < amounts.length && Math.round(amounts[to]! / ERROR_STEP_SEC) === step) to++;
      target.fill(0, from, to);
      const row = this.#tablesOf(step);
      for (let k = 0; k < row.length; k++) addTable(target, amounts, from, to, row[k]!, this.#cells[k]!, this.#hz[k]!);
      from = to;
    }
  }

  #tablesOf(step: number): readonly Float64Array[] {
    let row = this.#tables[ERROR_STEPS + step];
    if (row === undefined) {
      // What was lost has passed too, what is doubled has not.
      const passedSec = this.#steps.distanceSec + step * ERROR_STEP_SEC;
      row = this.#steps.partials.map((partial, k) => tableOf(turnErrorOf(partial, this.#noise[k]!, passedSec)));
      this.#tables[ERROR_STEPS + step] = row;
    }
    return row;
  }
}

/** Adds what one partial says of the amounts from..to-1. */
function addTable(
  target: Float64Array,
  amounts: Float64Array,
  from: number,
  to: number,
  table: Float64Array,
  cell: number,
  hz: number,
): void {
  for (let n = from; n < to; n++) {
    target[n]! += table[Math.round(cell - hz * amounts[n]! * TURN_CELLS) & (TURN_CELLS - 1)]!;
  }
}

/** Amounts that may be lost or doubled, s, from step to step. */
export function amountsWithin(mostSec: number, stepSec: number): Float64Array {
  const amounts: number[] = [];
  for (let d = -mostSec; d <= mostSec; d += stepSec) amounts.push(d);
  return Float64Array.from(amounts);
}

/**
 * One standard deviation of a turn, radians, after so much time. The mean of the two frequencies tells the turn of a partial
 * that glides evenly. What is left: noise; pitch that wanders; the bend of a vibrato, 2 pi f'' D^3 / 12. The factors are the
 * likeliest on held notes without cuts of six instruments of sampled takes (violin, contrabass, oboe, bassoon, tuba,
 * bass guitar) and were as likely on six others.
 */
function turnErrorOf({ hz, glideHz }: PartialStep, noise: number, passedSec: number): number {
  const glide = 1.5 * glideHz * passedSec;
  const wander = 0.003 * hz * passedSec;
  const bend = 0.4 * hz * passedSec * passedSec * passedSec;
  // Not Math.hypot, which takes ten times as long and guards against what these are far from.
  return Math.sqrt(0.05 * 0.05 + noise * noise + glide * glide + wander * wander + bend * bend);
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
