import type { Block, Meter } from '../signal/block.ts';
import { assertInRange } from '../signal/fault.ts';
import { makeKernelFollower } from './kernel-follower.ts';
import { PIECE_FRAMES } from './pitch-ear.ts';
import { type FollowPlan, followPlan, type PitchFollower } from './pitch-follower.ts';
import { ScriptFollower } from './script-follower.ts';

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

/**
 * Follows the pitch of one voice through a take: YIN's difference function with pYIN's candidates, each refined on the phases
 * of its partials, and the likeliest way through all of them; low notes are judged in a longer window (slow-window.ts). One channel,
 * any rate from 8 kHz on. Streams; its memory is 20 numbers for each 10 ms, and twice that while it grows. Sources beside the parts
 * (difference.ts, candidates.ts, pitch-path.ts, harmonic-refiner.ts).
 */
export class PitchTracker implements Meter<PitchTrack> {
  readonly #plan: FollowPlan;
  readonly #follower: PitchFollower;
  #result: PitchTrack | undefined;

  /** rateHz: 8000 to 384000. makeFollower: another than the best there is. */
  constructor(
    rateHz: number,
    makeFollower = (plan: FollowPlan): PitchFollower => makeKernelFollower(plan) ?? new ScriptFollower(plan),
  ) {
    assertInRange('rateHz', rateHz, 8000, 384000);
    this.#plan = followPlan(rateHz);
    this.#follower = makeFollower(this.#plan);
  }

  add(block: Block): void {
    if (this.#result !== undefined) throw new RangeError('the tracker has given its result');
    const samples = block[0];
    if (samples === undefined) return;
    for (let from = 0; from < samples.length; from += PIECE_FRAMES) {
      this.#follower.add(samples.subarray(from, from + PIECE_FRAMES));
    }
  }

  /** The whole track; after it nothing can be added. */
  result(): PitchTrack {
    const { workHz, hopFrames, stepFrames } = this.#plan;
    this.#result ??= {
      hopSec: hopFrames / workHz,
      // Phases are compared between a window and the one before: the pitch is that of the time between.
      firstSec: -hopFrames / 2 / workHz,
      ...this.#follower.end(),
      stepSec: stepFrames / workHz,
      samplesHz: workHz,
    };
    return this.#result;
  }
}
