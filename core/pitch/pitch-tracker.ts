import { BiquadCascade, designBiquad } from '../signal/biquad.ts';
import type { Block, Meter } from '../signal/block.ts';
import { assertInRange } from '../signal/fault.ts';
import { makeWindow } from '../signal/window.ts';
import { findCandidates, MOST_CANDIDATES, makeCandidates } from './candidates.ts';
import { Decimator } from './decimator.ts';
import { Difference } from './difference.ts';
import { HarmonicRefiner, type Refined } from './harmonic-refiner.ts';
import { NumberRow } from './number-row.ts';
import { OwnBreaks } from './own-breaks.ts';
import { PitchPath } from './pitch-path.ts';
import { SlowWindow } from './slow-window.ts';

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
/** Frames of a window at the work rate: 85 ms at 12 kHz, so that partials 41 Hz apart (E1) stand alone. */
const WINDOW_FRAMES = 1024;
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
/** Filtered at once. */
const RAW_FRAMES = 1024;
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
  readonly #decimator: Decimator;
  readonly #rumble: BiquadCascade;
  readonly #difference = new Difference(WINDOW_FRAMES);
  readonly #refiner: HarmonicRefiner;
  readonly #path = new PitchPath();
  readonly #found = makeCandidates();
  readonly #hz = new Float64Array(MOST_CANDIDATES);
  readonly #alone = new Float64Array(MOST_CANDIDATES);
  readonly #hollow = new Float64Array(MOST_CANDIDATES);
  readonly #overlooked = new Float64Array(MOST_CANDIDATES);
  readonly #standing = new Float64Array(MOST_CANDIDATES);
  readonly #rests = new Float64Array(MOST_CANDIDATES);
  readonly #shares = new Float64Array(MOST_CANDIDATES);
  readonly #hann = makeWindow('hann', WINDOW_FRAMES);
  readonly #roughness = new NumberRow();
  readonly #levels = new NumberRow();
  readonly #steps = new NumberRow();
  readonly #bright = new NumberRow();
  readonly #hop: number;
  readonly #stepFrames: number;
  readonly #firstSec: number;
  readonly #window = new Float64Array(WINDOW_FRAMES);
  readonly #slow: SlowWindow;
  /** What was heard last, up to `#filled`; the window of the next frame begins at `#begin`. */
  readonly #row: Float64Array;
  /** Frames at the work rate that wait for the rumble's filter, up to `#rawCount`. */
  readonly #raw = new Float32Array(RAW_FRAMES);
  #rawCount = 0;
  #begin = 0;
  #filled = WINDOW_FRAMES / 2;
  readonly #breaks: OwnBreaks;
  #settled = 0;
  #stepSum = 0;
  #brightSum = 0;
  #before = 0;
  #beforeThat = 0;
  #stepCount = 0;
  #flushed = false;
  readonly #take = (value: number): void => {
    this.#raw[this.#rawCount++] = value;
    if (this.#rawCount === RAW_FRAMES) this.#drain();
  };

  /** rateHz: 8000 to 384000. */
  constructor(rateHz: number) {
    assertInRange('rateHz', rateHz, 8000, 384000);
    const step = Math.max(1, Math.floor(rateHz / WORK_RATE_HZ));
    this.#rateHz = rateHz / step;
    this.#decimator = new Decimator(step);
    this.#rumble = new BiquadCascade([
      designBiquad({ kind: 'highPass', hz: RUMBLE_HZ, q: Math.SQRT1_2 }, this.#rateHz),
    ]);
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
    this.#slow = new SlowWindow(this.#hop, this.#rateHz);
    this.#row = new Float64Array(4 * (WINDOW_FRAMES + this.#slow.reachFrames));
  }

  add(block: Block): void {
    if (this.#flushed) throw new RangeError('the tracker has given its result');
    const samples = block[0];
    if (samples === undefined) return;
    this.#decimator.add(samples, this.#take);
    this.#drain();
  }

  /** The whole track; after it nothing can be added. */
  result(): PitchTrack {
    if (!this.#flushed) {
      this.#decimator.flush(this.#take);
      this.#drain();
      const after = new Float32Array(this.#slow.reachFrames);
      this.#rumble.process(after);
      for (let n = 0; n < after.length; n++) this.#sample(after[n]!, n < WINDOW_FRAMES / 2);
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

  #drain(): void {
    const raw = this.#raw.subarray(0, this.#rawCount);
    this.#rawCount = 0;
    this.#rumble.process(raw);
    for (let n = 0; n < raw.length; n++) this.#sample(raw[n]!, true);
  }

  /** The next sample above the rumble. */
  #sample(value: number, isHeard: boolean): void {
    if (isHeard) this.#count(value);
    this.#slow.add(value);
    this.#row[this.#filled++] = value;
    if (this.#filled < this.#begin + WINDOW_FRAMES / 2 + this.#slow.reachFrames) return;
    for (let n = 0; n < WINDOW_FRAMES; n++) this.#window[n] = this.#row[this.#begin + n]!;
    this.#frame();
    this.#begin += this.#hop;
    if (this.#filled + this.#hop < this.#row.length) return;
    this.#row.copyWithin(0, this.#begin, this.#filled);
    this.#filled -= this.#begin;
    this.#begin = 0;
  }

  #count(value: number): void {
    this.#breaks.addSample(value);
    this.#stepSum += value * value;
    const bend = value - 2 * this.#before + this.#beforeThat;
    this.#brightSum += bend * bend;
    this.#beforeThat = this.#before;
    this.#before = value;
    if (++this.#stepCount < this.#stepFrames) return;
    this.#steps.push(this.#stepSum / this.#stepFrames);
    this.#breaks.addStep(this.#stepSum / this.#stepFrames);
    this.#bright.push(this.#brightSum / this.#stepFrames);
    this.#stepSum = 0;
    this.#brightSum = 0;
    this.#stepCount = 0;
  }

  #frame(): void {
    const window = this.#window;
    const hann = this.#hann;
    let weighted = 0;
    for (let n = 0; n < WINDOW_FRAMES; n++) {
      const value = window[n]! * hann[n]!;
      weighted += value * value;
    }
    // 3/8 is the mean square of a Hann window.
    const levelDbfs = 10 * Math.log10(weighted / (0.375 * WINDOW_FRAMES) + 1e-20);
    const found = this.#found;
    const rate = this.#rateHz;
    this.#difference.run(window);
    const shortest = Math.max(2, Math.floor(rate / HIGHEST_HZ));
    const longest = Math.min(WINDOW_FRAMES / 2 - 2, Math.ceil(rate / LOWEST_HZ));
    findCandidates(this.#difference.normalised, shortest, longest, found);
    this.#refiner.begin(this.#difference.spectrumRe, this.#difference.spectrumIm);
    // Parseval, one side of the spectrum.
    const whole = 0.5 * WINDOW_FRAMES * weighted + 1e-20;
    this.#refine(whole);
    this.#path.add(
      {
        count: found.count,
        hz: this.#hz,
        probabilities: found.probabilities,
        shares: this.#shares,
        rests: this.#rests,
        alone: this.#alone,
        hollow: this.#hollow,
        overlooked: this.#overlooked,
        standing: this.#standing,
        voicing: found.voicing,
      },
      levelDbfs > SILENT_DBFS,
    );
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
      this.#hz[n] = refined.hz;
      this.#keep(n, refined);
      if (coarseHz < LOW_HZ) low += probabilities[n]!;
    }
    this.#refiner.next();
    if (low > LOW_SHARE) {
      this.#slow.begin();
      for (let n = 0; n < count; n++) {
        const refined = this.#slow.refine(this.#rateHz / lags[n]!);
        if (refined.hz < SLOW_HZ) this.#hz[n] = refined.hz;
        this.#keep(n, refined);
      }
    }
    this.#slow.next();
  }

  #keep(n: number, refined: Readonly<Refined>): void {
    this.#rests[n] = refined.rest;
    this.#alone[n] = refined.alone;
    this.#hollow[n] = refined.isHollow ? 1 : 0;
    this.#overlooked[n] = refined.isOverlooked ? 1 : 0;
    this.#standing[n] = refined.standing;
    this.#shares[n] = refined.share;
  }
}
