import { candidatesOf, MOST_CANDIDATES, makeCandidates } from './candidates.ts';
import { HarmonicRefiner, type Refined } from './harmonic-refiner.ts';
import { NumberRow } from './number-row.ts';
import { OwnBreaks } from './own-breaks.ts';
import { PIECE_FRAMES, type PitchEar, WINDOW_FRAMES } from './pitch-ear.ts';
import {
  type FollowedTrack,
  type FollowPlan,
  LOW_HZ,
  LOW_SHARE,
  type PitchFollower,
  SILENT_POWER,
  SLOW_HZ,
  windowPower,
} from './pitch-follower.ts';
import { PitchPath } from './pitch-path.ts';
import { ScriptEar } from './script-ear.ts';
import { SlowWindow } from './slow-window.ts';

/**
 * Follows the pitch in plain TypeScript: the kernel's twin, its oracle and its fallback. Memory: 20 numbers for each 10 ms, and twice that
 * while it grows.
 */
export class ScriptFollower implements PitchFollower {
  readonly #plan: FollowPlan;
  readonly #ear: PitchEar;
  readonly #refiner: HarmonicRefiner;
  readonly #slow: SlowWindow;
  readonly #path = new PitchPath();
  readonly #breaks: OwnBreaks;
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
  /** The ear has heard up to `#filled`; the window of the next frame begins at `#begin`. */
  #begin = 0;
  #filled: number;
  #settled = 0;

  constructor(plan: FollowPlan, ear: PitchEar = new ScriptEar(plan)) {
    const { workHz, hopFrames, stepFrames } = plan;
    this.#plan = plan;
    this.#ear = ear;
    this.#filled = plan.firstHeard;
    this.#refiner = new HarmonicRefiner(WINDOW_FRAMES, hopFrames, workHz);
    this.#slow = new SlowWindow(plan.slow, ear, workHz);
    this.#breaks = new OwnBreaks({
      ...{ samplesHz: workHz, stepFrames, hopSec: hopFrames / workHz, firstSec: -hopFrames / 2 / workHz },
    });
  }

  add(samples: Float32Array): void {
    this.#makeRoom();
    this.#follow(this.#ear.add(samples), true);
  }

  end(): FollowedTrack {
    const counted = WINDOW_FRAMES / 2;
    this.#makeRoom();
    this.#follow(this.#ear.flush(), true);
    this.#makeRoom();
    this.#follow(this.#ear.rest(counted, true), true);
    this.#makeRoom();
    this.#follow(this.#ear.rest(this.#plan.aheadFrames - 2 * counted, false), false);
    const way = this.#path.result();
    this.#settle();
    return {
      ...way,
      roughness: this.#roughness.toArray(),
      levelsDbfs: this.#levels.toArray(),
      stepPowers: this.#steps.toArray(),
      brightPowers: this.#bright.toArray(),
      breakPowers: this.#breaks.result(),
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
    const { aheadFrames, hopFrames } = this.#plan;
    if (isCounted) this.#breaks.addSamples(heard.subarray(this.#filled, this.#filled + count));
    for (let n = 0; n < stepsEnded; n++) {
      this.#steps.push(stepPowers[n]!);
      this.#bright.push(brightPowers[n]!);
      this.#breaks.addStep(stepPowers[n]!);
    }
    this.#filled += count;
    for (; this.#begin + aheadFrames <= this.#filled; this.#begin += hopFrames) this.#frame();
  }

  #frame(): void {
    const look = this.#ear.look(this.#begin);
    const power = windowPower(look.weighted);
    const judged = this.#judged;
    const found = candidatesOf(look.dips, this.#found);
    this.#refiner.begin(look);
    // Parseval, one side of the spectrum.
    this.#refine(0.5 * WINDOW_FRAMES * look.weighted + 1e-20);
    judged.count = found.count;
    judged.voicing = found.voicing;
    this.#path.add(judged, power > SILENT_POWER);
    this.#settle();
    this.#roughness.push(found.deepest);
    this.#levels.push(10 * Math.log10(power));
  }

  /** What of the way is settled tells what repeats. */
  #settle(): void {
    for (; this.#settled < this.#path.settled; this.#settled++) this.#breaks.settle(this.#path.hzAt(this.#settled));
  }

  /** Judges the candidates. whole: sum of all bins' powers. */
  #refine(whole: number): void {
    const { workHz } = this.#plan;
    const { count, lags, probabilities } = this.#found;
    let low = 0;
    for (let n = 0; n < count; n++) {
      const coarseHz = workHz / lags[n]!;
      const refined = this.#refiner.refine(coarseHz, whole);
      this.#judged.hz[n] = refined.hz;
      this.#keep(n, refined);
      if (coarseHz < LOW_HZ) low += probabilities[n]!;
    }
    this.#refiner.next();
    if (low > LOW_SHARE) {
      this.#slow.begin();
      for (let n = 0; n < count; n++) {
        const refined = this.#slow.refine(workHz / lags[n]!);
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
