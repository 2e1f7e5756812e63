import { BiquadCascade } from '../signal/biquad.ts';
import { makeWindow } from '../signal/window.ts';
import { Decimator } from './decimator.ts';
import { Difference } from './difference.ts';
import { findDips, makeDips } from './dips.ts';
import {
  type EarPlan,
  fillHannPowers,
  PIECE_FRAMES,
  type PitchEar,
  SLOW_STEP,
  WINDOW_FRAMES,
  type WindowLook,
} from './pitch-ear.ts';

/** The ear in plain TypeScript: the kernel's twin, its oracle and its fallback. All sums are double. */
export class ScriptEar implements PitchEar {
  readonly heard: Float32Array;
  readonly slow: Float64Array;
  readonly stepPowers: Float64Array;
  readonly brightPowers: Float64Array;
  slowCount: number;
  stepsEnded = 0;
  readonly #plan: EarPlan;
  readonly #decimator: Decimator;
  readonly #slowDecimator = new Decimator(SLOW_STEP);
  readonly #rumble: BiquadCascade;
  readonly #difference = new Difference(WINDOW_FRAMES);
  readonly #hann = makeWindow('hann', WINDOW_FRAMES);
  readonly #dips = makeDips();
  readonly #window = new Float64Array(WINDOW_FRAMES);
  readonly #fewer: Float64Array;
  readonly #looks: readonly [WindowLook, WindowLook];
  #place: 0 | 1 = 0;
  #filled: number;
  #stepSum = 0;
  #brightSum = 0;
  #before = 0;
  #beforeThat = 0;
  #framesOfStep = 0;

  constructor(plan: EarPlan) {
    this.#plan = plan;
    this.#decimator = new Decimator(plan.step);
    this.#rumble = new BiquadCascade([plan.rumble]);
    this.heard = new Float32Array(plan.heardFrames);
    this.slow = new Float64Array(plan.slowFrames);
    this.stepPowers = new Float64Array(Math.ceil(PIECE_FRAMES / plan.stepFrames) + 1);
    this.brightPowers = new Float64Array(this.stepPowers.length);
    this.#fewer = new Float64Array(PIECE_FRAMES + 1);
    this.#filled = plan.firstHeard;
    this.slowCount = plan.firstSlow;
    const bins = (): Float64Array => new Float64Array(WINDOW_FRAMES / 2 + 1);
    const powers = bins();
    const { normalised } = this.#difference;
    this.#looks = [
      { re: bins(), im: bins(), powers, normalised, dips: this.#dips, weighted: 0 },
      { re: bins(), im: bins(), powers, normalised, dips: this.#dips, weighted: 0 },
    ];
  }

  add(samples: Float32Array): number {
    return this.#hear(this.#decimator.add(samples, this.#fewer, 0), true);
  }

  flush(): number {
    return this.#hear(this.#decimator.flush(this.#fewer, 0), true);
  }

  rest(frames: number, isCounted: boolean): number {
    this.#fewer.fill(0, 0, frames);
    return this.#hear(frames, isCounted);
  }

  forget(frames: number): void {
    this.heard.copyWithin(0, frames, this.#filled);
    this.#filled -= frames;
  }

  forgetSlow(frames: number): void {
    this.slow.copyWithin(0, frames, this.slowCount);
    this.slowCount -= frames;
  }

  look(begin: number): WindowLook {
    const window = this.#window;
    const hann = this.#hann;
    this.#place = this.#place === 0 ? 1 : 0;
    const look = this.#looks[this.#place];
    look.weighted = 0;
    for (let n = 0; n < WINDOW_FRAMES; n++) {
      window[n] = this.heard[begin + n]!;
      look.weighted += (window[n]! * hann[n]!) ** 2;
    }
    this.#difference.run(window);
    look.re.set(this.#difference.spectrumRe);
    look.im.set(this.#difference.spectrumIm);
    fillHannPowers(look);
    findDips(look.normalised, this.#plan.shortestLag, this.#plan.longestLag, this.#dips);
    return look;
  }

  /** Hears the first `count` of what the decimator gave. */
  #hear(count: number, isCounted: boolean): number {
    const heard = this.heard.subarray(this.#filled, this.#filled + count);
    for (let n = 0; n < count; n++) heard[n] = this.#fewer[n]!;
    this.#rumble.process(heard);
    this.#filled += count;
    this.slowCount += this.#slowDecimator.add(heard, this.slow, this.slowCount);
    this.stepsEnded = 0;
    if (isCounted) for (let n = 0; n < count; n++) this.#count(heard[n]!);
    return count;
  }

  #count(value: number): void {
    const { stepFrames } = this.#plan;
    this.#stepSum += value * value;
    const bend = value - 2 * this.#before + this.#beforeThat;
    this.#brightSum += bend * bend;
    this.#beforeThat = this.#before;
    this.#before = value;
    if (++this.#framesOfStep < stepFrames) return;
    this.stepPowers[this.stepsEnded] = this.#stepSum / stepFrames;
    this.brightPowers[this.stepsEnded++] = this.#brightSum / stepFrames;
    this.#stepSum = 0;
    this.#brightSum = 0;
    this.#framesOfStep = 0;
  }
}
