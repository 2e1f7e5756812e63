import { makeWindow } from '../signal/window.ts';
import { decimatorTaps } from './decimator.ts';
import { type Dips, HALF_TAPS, MOST_DIPS } from './dips.ts';
import { loadPitchKernel, type PitchKernel } from './kernel/pitch-kernel.ts';
import { type EarPlan, PIECE_FRAMES, type PitchEar, SLOW_STEP, WINDOW_FRAMES, type WindowLook } from './pitch-ear.ts';

const BINS = WINDOW_FRAMES / 2 + 1;
/** Double numbers from one row of bins to the next, as laid out in assembly/look.ts. */
const BINS_ROOM = 520;
/** Steps that may end in one call, as laid out in assembly/ear.ts. */
const MOST_STEPS = 257;

/**
 * The ear in WebAssembly: spectra and products in single precision (rounding some 1e-7 of the strongest bin), all else in double, with the
 * sums of script-ear.ts in the same order but for those over a window. Undefined where there is no SIMD. Memory: some 350 kB.
 */
export function makeKernelEar(plan: EarPlan): PitchEar | undefined {
  const kernel = loadPitchKernel();
  return kernel === undefined ? undefined : new KernelEar(kernel, plan);
}

export class KernelEar implements PitchEar {
  readonly heard: Float32Array;
  readonly slow: Float64Array;
  readonly stepPowers: Float64Array;
  readonly brightPowers: Float64Array;
  readonly #kernel: PitchKernel;
  readonly #input: Float32Array;
  readonly #dips: Dips;
  readonly #looks: readonly [WindowLook, WindowLook];
  #place: 0 | 1 = 0;

  constructor(kernel: PitchKernel, plan: EarPlan) {
    const taps = decimatorTaps(plan.step);
    const slowTaps = decimatorTaps(SLOW_STEP);
    const { step, stepFrames, heardFrames, firstHeard, slowFrames, firstSlow, rumble } = plan;
    const table = kernel.plan(
      ...[step, taps.length - 1, slowTaps.length - 1, stepFrames],
      ...[heardFrames, firstHeard, slowFrames, firstSlow, plan.shortestLag, plan.longestLag],
    );
    if (table === 0) throw new RangeError(`heardFrames is ${heardFrames}; allowed what the memory holds`);
    // Nothing is laid out after this, so the views stay good.
    const { buffer } = kernel.memory;
    const at = addresses(new Uint32Array(buffer, table, 17));
    const doubles = (address: number, length: number): Float64Array => new Float64Array(buffer, address, length);
    doubles(at.taps, taps.length).set(taps);
    doubles(at.slowTaps, slowTaps.length).set(slowTaps);
    doubles(at.coefficients, 5).set([rumble.b0, rumble.b1, rumble.b2, rumble.a1, rumble.a2]);
    doubles(at.halfTaps, HALF_TAPS.length).set(HALF_TAPS);
    doubles(at.hann, WINDOW_FRAMES).set(makeWindow('hann', WINDOW_FRAMES));
    setTwiddles(new Float32Array(buffer, at.twiddles), WINDOW_FRAMES);
    setTwiddles(new Float32Array(buffer, at.shortTwiddles), WINDOW_FRAMES / 2);
    setSplits(new Float32Array(buffer, at.splits), WINDOW_FRAMES);
    this.#kernel = kernel;
    this.#input = new Float32Array(buffer, at.input, PIECE_FRAMES);
    this.heard = new Float32Array(buffer, at.heard, heardFrames);
    this.slow = doubles(at.slow, slowFrames);
    this.stepPowers = doubles(at.stepPowers, MOST_STEPS);
    this.brightPowers = doubles(at.brightPowers, MOST_STEPS);
    const powers = doubles(at.powers, BINS);
    const normalised = doubles(at.row, BINS);
    this.#dips = { count: 0, lags: doubles(at.dips, MOST_DIPS), depths: doubles(at.dips + 8 * MOST_DIPS, MOST_DIPS) };
    const dips = this.#dips;
    const look = (place: number): WindowLook => {
      const re = at.spectra + 16 * BINS_ROOM * place;
      return { re: doubles(re, BINS), im: doubles(re + 8 * BINS_ROOM, BINS), powers, normalised, dips, weighted: 0 };
    };
    this.#looks = [look(0), look(1)];
  }

  get slowCount(): number {
    return this.#kernel.slowCount();
  }

  get stepsEnded(): number {
    return this.#kernel.steps();
  }

  /** Lays input frames where the kernel takes them from. */
  take(samples: Float32Array): void {
    this.#input.set(samples);
  }

  add(samples: Float32Array): number {
    this.take(samples);
    return this.#kernel.add(samples.length);
  }

  flush(): number {
    return this.#kernel.flush();
  }

  rest(frames: number, isCounted: boolean): number {
    return this.#kernel.rest(frames, isCounted ? 1 : 0);
  }

  forget(frames: number): void {
    this.#kernel.forget(frames);
  }

  forgetSlow(frames: number): void {
    this.#kernel.forgetSlow(frames);
  }

  look(begin: number): WindowLook {
    this.#place = this.#place === 0 ? 1 : 0;
    const look = this.#looks[this.#place];
    look.weighted = this.#kernel.lookAt(begin, this.#place);
    this.#dips.count = this.#kernel.dipCount();
    return look;
  }
}

/** The table that `plan` of assembly/ear.ts fills. */
function addresses(table: Uint32Array) {
  const [input, taps, slowTaps, coefficients, hann, twiddles, shortTwiddles, splits] = table as unknown as number[];
  const [heard, slow, stepPowers, brightPowers, spectra, powers, row, halfTaps, dips] = table.subarray(
    8,
  ) as unknown as number[];
  return {
    ...{ input: input!, taps: taps!, slowTaps: slowTaps!, coefficients: coefficients!, hann: hann! },
    ...{ twiddles: twiddles!, shortTwiddles: shortTwiddles!, splits: splits!, heard: heard!, slow: slow! },
    ...{ stepPowers: stepPowers!, brightPowers: brightPowers!, spectra: spectra!, powers: powers!, row: row! },
    ...{ halfTaps: halfTaps!, dips: dips! },
  };
}

/**
 * Stage by stage the three twiddles of each group: real and imaginary part of w, w squared and w cubed; in the first stage those of
 * four groups side by side. size: complex numbers.
 */
function setTwiddles(target: Float32Array, size: number): void {
  let at = 0;
  for (let count = size, stride = 1; count >= 4; count >>= 2, stride *= 4) {
    const wide = stride === 1 ? 4 : 1;
    for (let p = 0; p < count >> 2; p++) {
      const place = wide === 1 ? at + 6 * p : 24 * (p >> 2) + (p % 4);
      for (let times = 1; times <= 3; times++) {
        const angle = (2 * Math.PI * times * p * stride) / size;
        target[place + wide * (2 * times - 2)] = Math.cos(angle);
        target[place + wide * (2 * times - 1)] = -Math.sin(angle);
      }
    }
    at += 6 * (count >> 2);
  }
}

/** Those of the split step from bin 1 on: four real parts, four imaginary ones. size: real numbers. */
function setSplits(target: Float32Array, size: number): void {
  for (let k = 1, at = 0; k <= size / 4; k += 4, at += 8) {
    for (let lane = 0; lane < 4; lane++) {
      target[at + lane] = Math.cos((2 * Math.PI * (k + lane)) / size);
      target[at + 4 + lane] = -Math.sin((2 * Math.PI * (k + lane)) / size);
    }
  }
}
