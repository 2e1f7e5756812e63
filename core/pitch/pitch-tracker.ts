import { designBiquad } from '../signal/biquad.ts';
import type { Block, Meter } from '../signal/block.ts';
import { assertInRange } from '../signal/fault.ts';
import { candidatesOf, MOST_CANDIDATES, makeCandidates } from './candidates.ts';
import { HarmonicRefiner, type Refined } from './harmonic-refiner.ts';
import { makeKernelEar } from './kernel-ear.ts';
import { NumberRow } from './number-row.ts';
import { OwnBreaks } from './own-breaks.ts';
import { type EarPlan, PIECE_FRAMES, type PitchEar, WINDOW_FRAMES } from './pitch-ear.ts';
import { PitchPath } from './pitch-path.ts';
import { ScriptEar } from './script-ear.ts';
import { SlowWindow, slowShape } from './slow-window.ts';

/** The pitch of a take, frame by frame. */
export interface PitchTrack {
  /** From one frame to the next, s: about 10 ms. */
  readonly hopSec: number;
  /** Of frame 0, s of the take; frame n lies at firstSec + n hopSec. */
  readonly firstSec: number;
  /** Fundamental frequency, Hz; NaN where there is none. */
  readonly hz: Float64Array;
  /** Share of the power that lies in the partials of that pitch, 0 to 1; 0 where there is none. */
  readonly shares: Float64Array;
  /** 1 where that pitch looks like a common fraction of several notes (see harmonic-refiner.ts), else 0. */
  readonly hollow: Float64Array;
  /** YIN's least normalised difference of each frame: 0 periodic, 1 not at all. */
  readonly roughness: Float64Array;
  /** Power of each frame's window, dBFS (a full-scale sine is -3). */
  readonly levelsDbfs: Float64Array;
  /** Mean square over short steps from take time 0 on, one each `stepSec`, about 2 ms. */
  readonly stepPowers: Float64Array;
  /** Mean square of the second difference over the same steps: high partials and noise count most. */
  readonly brightPowers: Float64Array;
  readonly stepSec: number;
  /** How little the sound repeats over the same steps at the pitch of the track (own-breaks.ts), full scale 1 squared. */
  readonly breakPowers: Float64Array;
  /** Rate at which it was listened to, Hz: 11 to 22 kHz. */
  readonly samplesHz: number;
}

/** Lowest and highest pitch: A0 of an organ's pedal and of a contrabassoon, a half tone flat; and C8. */
const LOWEST_HZ = 26;
const HIGHEST_HZ = 4200;
/** The work is done at the lowest rate at or above this that a whole step gives: partials up to 5 kHz, lags of 80 us. */
const WORK_RATE_HZ = 11000;
/**
 * Where a pitch below this has so much of the probability, partials stand too near each other in the window to tell octaves apart
 * (their half lies within four bins): the longer window judges all candidates. Below SLOW_HZ it gives the pitch as well.
 */
const LOW_HZ = 90;
const LOW_SHARE = 0.02;
const SLOW_HZ = 36;
const HOPS_PER_SEC = 100;
const STEPS_PER_HOP = 5;
/** Rumble below every pitch. */
const RUMBLE_HZ = 30;
/** Quieter frames hold no pitch whatever they are, dBFS. */
const SILENT_DBFS = -90;

/**
 * Follows the pitch of one voice through a take: YIN's difference function with pYIN's candidates, each refined on the phases
 * of its partials, and the likeliest way through all of them; low notes are judged in a longer window (slow-window.ts). One channel,
 * any rate from 8 kHz on. Streams; its memory is 20 numbers for each 10 ms, and twice that while it grows. Sources beside the parts
 * (difference.ts, candidates.ts, pitch-path.ts, harmonic-refiner.ts).
 */
export class PitchTracker implements Meter<PitchTrack> {
  readonly #rateHz: number;
  readonly #ear: PitchEar;
  readonly #refiner: HarmonicRefiner;
  readonly #path = new PitchPath();
  readonly #found = makeCandidates();
  /** The candidates of a frame as the path takes them. */
  readonly #judged = {
    count: 0,
    voicing: 0,
    probabilities: this.#found.probabilities,
    hz: new Float64Array(MOST_CANDIDATES),
    alone: new Float64Array(MOST_CANDIDATES),
    hollow: new Float64Array(MOST_CANDIDATES),
    overlooked: new Float64Array(MOST_CANDIDATES),
    standing: new Float64Array(MOST_CANDIDATES),
    rests: new Float64Array(MOST_CANDIDATES),
    shares: new Float64Array(MOST_CANDIDATES),
  };
  readonly #roughness = new NumberRow();
  readonly #levels = new NumberRow();
  readonly #steps = new NumberRow();
  readonly #bright = new NumberRow();
  readonly #hop: number;
  readonly #stepFrames: number;
  readonly #firstSec: number;
  readonly #slow: SlowWindow;
  /** The window of the next frame is looked at when it begins so far before the newest frame heard. */
  readonly #ahead: number;
  /** The ear has heard up to `#filled`; the window of the next frame begins at `#begin`. */
  #begin = 0;
  #filled = WINDOW_FRAMES / 2;
  readonly #breaks: OwnBreaks;
  #settled = 0;
  #flushed = false;

  /** rateHz: 8000 to 384000. makeEar: another ear than the best there is. */
  constructor(rateHz: number, makeEar = (plan: EarPlan): PitchEar => makeKernelEar(plan) ?? new ScriptEar(plan)) {
    assertInRange('rateHz', rateHz, 8000, 384000);
    const step = Math.max(1, Math.floor(rateHz / WORK_RATE_HZ));
    this.#rateHz = rateHz / step;
    this.#stepFrames = Math.round(this.#rateHz / HOPS_PER_SEC / STEPS_PER_HOP);
    this.#hop = this.#stepFrames * STEPS_PER_HOP;
    // Phases are compared between a window and the one before: the pitch is that of the time between.
    this.#firstSec = -this.#hop / 2 / this.#rateHz;
    this.#breaks = new OwnBreaks({
      samplesHz: this.#rateHz,
      stepFrames: this.#stepFrames,
      hopSec: this.#hop / this.#rateHz,
      firstSec: this.#firstSec,
    });
    this.#refiner = new HarmonicRefiner(WINDOW_FRAMES, this.#hop, this.#rateHz);
    const shape = slowShape(this.#hop, this.#rateHz);
    this.#ahead = WINDOW_FRAMES / 2 + shape.reachFrames;
    this.#ear = makeEar({
      step,
      rumble: designBiquad({ kind: 'highPass', hz: RUMBLE_HZ, q: Math.SQRT1_2 }, this.#rateHz),
      stepFrames: this.#stepFrames,
      heardFrames: 2 * (this.#ahead + PIECE_FRAMES),
      firstHeard: this.#filled,
      slowFrames: shape.slowFrames,
      firstSlow: shape.firstSlow,
      shortestLag: Math.max(2, Math.floor(this.#rateHz / HIGHEST_HZ)),
      longestLag: Math.min(WINDOW_FRAMES / 2 - 2, Math.ceil(this.#rateHz / LOWEST_HZ)),
    });
    this.#slow = new SlowWindow(shape, this.#ear, this.#rateHz);
  }

  add(block: Block): void {
    if (this.#flushed) throw new RangeError('the tracker has given its result');
    const samples = block[0];
    if (samples === undefined) return;
    for (let from = 0; from < samples.length; from += PIECE_FRAMES) {
      this.#makeRoom();
      this.#follow(this.#ear.add(samples.subarray(from, from + PIECE_FRAMES)), true);
    }
  }

  /** The whole track; after it nothing can be added. */
  result(): PitchTrack {
    if (!this.#flushed) {
      const counted = WINDOW_FRAMES / 2;
      this.#makeRoom();
      this.#follow(this.#ear.flush(), true);
      this.#makeRoom();
      this.#follow(this.#ear.rest(counted, true), true);
      this.#makeRoom();
      this.#follow(this.#ear.rest(this.#ahead - 2 * counted, false), false);
      this.#flushed = true;
    }
    const { hz, shares, hollow } = this.#path.result();
    this.#settle();
    return {
      hopSec: this.#hop / this.#rateHz,
      firstSec: this.#firstSec,
      hz,
      shares,
      hollow,
      roughness: this.#roughness.toArray(),
      levelsDbfs: this.#levels.toArray(),
      stepPowers: this.#steps.toArray(),
      brightPowers: this.#bright.toArray(),
      stepSec: this.#stepFrames / this.#rateHz,
      breakPowers: this.#breaks.result(),
      samplesHz: this.#rateHz,
    };
  }

  #makeRoom(): void {
    this.#slow.makeRoom();
    if (this.#filled + PIECE_FRAMES < this.#ear.heard.length) return;
    this.#ear.forget(this.#begin);
    this.#filled -= this.#begin;
    this.#begin = 0;
  }

  /** Goes on to the end of what the ear has heard: so many frames more. */
  #follow(count: number, isCounted: boolean): void {
    const { heard, stepPowers, brightPowers, stepsEnded } = this.#ear;
    if (isCounted) this.#breaks.addSamples(heard.subarray(this.#filled, this.#filled + count));
    for (let n = 0; n < stepsEnded; n++) {
      this.#steps.push(stepPowers[n]!);
      this.#bright.push(brightPowers[n]!);
      this.#breaks.addStep(stepPowers[n]!);
    }
    this.#filled += count;
    for (; this.#begin + this.#ahead <= this.#filled; this.#begin += this.#hop) this.#frame();
  }

  #frame(): void {
    const look = this.#ear.look(this.#begin);
    // 3/8 is the mean square of a Hann window.
    const levelDbfs = 10 * Math.log10(look.weighted / (0.375 * WINDOW_FRAMES) + 1e-20);
    const judged = this.#judged;
    const found = candidatesOf(look.dips, this.#found);
    this.#refiner.begin(look);
    // Parseval, one side of the spectrum.
    this.#refine(0.5 * WINDOW_FRAMES * look.weighted + 1e-20);
    judged.count = found.count;
    judged.voicing = found.voicing;
    this.#path.add(judged, levelDbfs > SILENT_DBFS);
    this.#settle();
    this.#roughness.push(found.deepest);
    this.#levels.push(levelDbfs);
  }

  /** What of the way is settled tells what repeats. */
  #settle(): void {
    for (; this.#settled < this.#path.settled; this.#settled++) this.#breaks.settle(this.#path.hzAt(this.#settled));
  }

  /** Judges the candidates. whole: sum of all bins' powers. */
  #refine(whole: number): void {
    const { count, lags, probabilities } = this.#found;
    let low = 0;
    for (let n = 0; n < count; n++) {
      const coarseHz = this.#rateHz / lags[n]!;
      const refined = this.#refiner.refine(coarseHz, whole);
      this.#judged.hz[n] = refined.hz;
      this.#keep(n, refined);
      if (coarseHz < LOW_HZ) low += probabilities[n]!;
    }
    this.#refiner.next();
    if (low > LOW_SHARE) {
      this.#slow.begin();
      for (let n = 0; n < count; n++) {
        const refined = this.#slow.refine(this.#rateHz / lags[n]!);
        if (refined.hz < SLOW_HZ) this.#judged.hz[n] = refined.hz;
        this.#keep(n, refined);
      }
    }
    this.#slow.next();
  }

  #keep(n: number, refined: Readonly<Refined>): void {
    const judged = this.#judged;
    judged.rests[n] = refined.rest;
    judged.alone[n] = refined.alone;
    judged.hollow[n] = refined.isHollow ? 1 : 0;
    judged.overlooked[n] = refined.isOverlooked ? 1 : 0;
    judged.standing[n] = refined.standing;
    judged.shares[n] = refined.share;
  }
}
