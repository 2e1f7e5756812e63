import { designBiquad } from '../signal/biquad.ts';
import { type EarPlan, PIECE_FRAMES, WINDOW_FRAMES } from './pitch-ear.ts';
import { type SlowShape, slowShape } from './slow-window.ts';

/**
 * What follows the pitch of one take: all of the tracker but its rates and its result. In WebAssembly (kernel-follower.ts) or plain
 * TypeScript (script-follower.ts).
 */
export interface PitchFollower {
  /** Takes up to PIECE_FRAMES input frames. */
  add(samples: Float32Array): void;
  /** No input comes any more: the whole track. To be asked for once. */
  end(): FollowedTrack;
}

/** What was followed; as in `PitchTrack`. */
export interface FollowedTrack {
  readonly hz: Float64Array;
  readonly shares: Float64Array;
  readonly hollow: Float64Array;
  readonly roughness: Float64Array;
  readonly levelsDbfs: Float64Array;
  readonly stepPowers: Float64Array;
  readonly brightPowers: Float64Array;
  readonly breakPowers: Float64Array;
}

/** What a follower is made for. */
export interface FollowPlan extends EarPlan {
  /** The rate of the work, Hz. */
  readonly workHz: number;
  /** From one window to the next, frames of the work rate. */
  readonly hopFrames: number;
  /** The window of the next frame is looked at when it begins so far before the newest frame heard. */
  readonly aheadFrames: number;
  readonly slow: SlowShape;
}

/** Lowest and highest pitch: A0 of an organ's pedal and of a contrabassoon, a half tone flat; and C8. */
const LOWEST_HZ = 26;
const HIGHEST_HZ = 4200;
/** The work is done at the lowest rate at or above this that a whole step gives: partials up to 5 kHz, lags of 80 us. */
const WORK_RATE_HZ = 11000;
const HOPS_PER_SEC = 100;
const STEPS_PER_HOP = 5;
/** Rumble below every pitch. */
const RUMBLE_HZ = 30;

/**
 * Where a pitch below this has so much of the probability, partials stand too near each other in the window to tell octaves apart
 * (their half lies within four bins): the longer window judges all candidates. Below SLOW_HZ it gives the pitch as well.
 */
export const LOW_HZ = 90;
export const LOW_SHARE = 0.02;
export const SLOW_HZ = 36;
/** A frame of no more power holds no pitch whatever it is: -90 dBFS. */
export const SILENT_POWER = 1e-9;

/** Mean square of a window whose sum of squares under a Hann window is known; 3/8 is the mean square of that. */
export function windowPower(weighted: number): number {
  return weighted / (0.375 * WINDOW_FRAMES) + 1e-20;
}

/** rateHz: of the input, 8000 to 384000. */
export function followPlan(rateHz: number): FollowPlan {
  const step = Math.max(1, Math.floor(rateHz / WORK_RATE_HZ));
  const workHz = rateHz / step;
  const stepFrames = Math.round(workHz / HOPS_PER_SEC / STEPS_PER_HOP);
  const hopFrames = stepFrames * STEPS_PER_HOP;
  const slow = slowShape(hopFrames, workHz);
  const aheadFrames = WINDOW_FRAMES / 2 + slow.reachFrames;
  return {
    ...{ workHz, hopFrames, aheadFrames, slow, step, stepFrames },
    rumble: designBiquad({ kind: 'highPass', hz: RUMBLE_HZ, q: Math.SQRT1_2 }, workHz),
    heardFrames: 2 * (aheadFrames + PIECE_FRAMES),
    firstHeard: WINDOW_FRAMES / 2,
    slowFrames: slow.slowFrames,
    firstSlow: slow.firstSlow,
    shortestLag: Math.max(2, Math.floor(workHz / HIGHEST_HZ)),
    longestLag: Math.min(WINDOW_FRAMES / 2 - 2, Math.ceil(workHz / LOWEST_HZ)),
  };
}
