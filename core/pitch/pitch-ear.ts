import type { BiquadCoefficients } from '../signal/biquad.ts';
import type { Dips } from './dips.ts';

/** Frames of a window at the work rate: 85 ms at 12 kHz, so that partials 41 Hz apart (E1) stand alone. */
export const WINDOW_FRAMES = 1024;
/** Most input frames, or frames of rest, at once. */
export const PIECE_FRAMES = 4096;
/** Of this many frames that are heard one goes into the slow row. The tracker's hop is five of its steps at every rate. */
export const SLOW_STEP = 5;

/** What an ear is made for. Lengths in frames. */
export interface EarPlan {
  /** Input frames for each one that is heard, 1 to 64. */
  readonly step: number;
  /** Takes the rumble away, at the rate of what is heard. */
  readonly rumble: BiquadCoefficients;
  /** Of a step whose powers are told, 16 and more. */
  readonly stepFrames: number;
  /** Room of the two rows, and how many zeros they begin with. */
  readonly heardFrames: number;
  readonly firstHeard: number;
  readonly slowFrames: number;
  readonly firstSlow: number;
  /** Lags among which dips are looked for, first and last: 2 and more, at most half a window less 2. */
  readonly shortestLag: number;
  readonly longestLag: number;
}

/** The spectrum of a window: rectangular, not scaled, bins 0 to half the size. */
export interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
  /** Power of each Hann bin but the first and the last: half the rectangular bin less a quarter of its neighbours (Harris 1978). */
  readonly powers: Float64Array;
}

/** What is seen in a window of WINDOW_FRAMES. */
export interface WindowLook extends Spectrum {
  /** d'(lag) of YIN, lag 0 to half the window; see difference.ts. */
  readonly normalised: Float64Array;
  readonly dips: Readonly<Dips>;
  /** Sum of the squares under a Hann window. */
  weighted: number;
}

/**
 * The part of the tracker that does the same for every sample and every window: fewer samples behind a low pass, no rumble, powers of
 * short steps, and what a window shows. In WebAssembly (kernel-ear.ts) or plain TypeScript (script-ear.ts). Allocates nothing while
 * running; its rows are of fixed length, and whoever uses it drops what is no longer needed before there is no room.
 */
export interface PitchEar {
  /** Frames at the work rate, above the rumble. */
  readonly heard: Float32Array;
  /** Every SLOW_STEPth of them, behind a low pass; so many are there. */
  readonly slow: Float64Array;
  readonly slowCount: number;
  /** Mean square, and mean square of the second difference, of the steps that ended in the last call; so many. */
  readonly stepPowers: Float64Array;
  readonly brightPowers: Float64Array;
  readonly stepsEnded: number;
  /** Takes up to PIECE_FRAMES input frames; gives how many more are heard. */
  add(samples: Float32Array): number;
  /** Gives what waited for what comes after the end, as `add`. */
  flush(): number;
  /** So many zeros at the work rate, as `add`; isCounted: whether steps are made of them. */
  rest(frames: number, isCounted: boolean): number;
  /** Drops the oldest frames of a row. */
  forget(frames: number): void;
  forgetSlow(frames: number): void;
  /** Looks at the window that begins at a frame heard. The spectrum stays until the look after the next, all else until the next. */
  look(begin: number): WindowLook;
}

/** Fills the powers of a spectrum's Hann bins. */
export function fillHannPowers({ re, im, powers }: Spectrum): void {
  for (let bin = 1; bin < re.length - 1; bin++) {
    const a = 0.5 * re[bin]! - 0.25 * (re[bin - 1]! + re[bin + 1]!);
    const b = 0.5 * im[bin]! - 0.25 * (im[bin - 1]! + im[bin + 1]!);
    powers[bin] = a * a + b * b;
  }
}
