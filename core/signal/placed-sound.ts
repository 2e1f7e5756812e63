import type { Clock } from './clock.ts';
import { assertInRange } from './fault.ts';
import type { Interpolator } from './interpolator.ts';
import { makeInterpolator } from './resample.ts';
import type { Sound } from './sound.ts';

/** Where a recording lies on the session's time line; drifts within 2000 ppm. */
export interface PlaceOnLine extends Clock {
  readonly sessionRateHz: number;
}

/** Nearer to a whole frame than this counts as whole (20 ps at 48 kHz: the rounding of seconds in double). */
const WHOLE_FRAME = 1e-6;

/**
 * A recording on the session's clock: frame n sounds at session time n / sessionRateHz. Frames before its first and past
 * its last are 0. Rate and drift are corrected in one windowed-sinc pass; at the session's own rate, without drift and on
 * a whole frame the samples are copied to the bit. Any part can be read at any time: the result does not depend on how it
 * was asked for. Quality: see interpolator.ts. Allocates nothing while running when the lengths asked for stay the same.
 */
export class PlacedSound implements Sound {
  readonly rateHz: number;
  /** First session frame after the recording; 0 when it ends before session time zero. */
  readonly lengthFrames: number;
  /** First session frame at or after the recording's first sample; negative when it began earlier. */
  readonly firstFrame: number;
  readonly #sound: Sound;
  /** Input frames per session frame, and the place of session frame 0 in the input. */
  readonly #step: number;
  readonly #start: number;
  readonly #endFrame: number;
  readonly #interpolator: Interpolator | undefined;

  constructor(sound: Sound, place: PlaceOnLine) {
    assertInRange('driftPpm', place.driftPpm, -2000, 2000);
    assertInRange('offsetSec', place.offsetSec, -1e6, 1e6);
    this.#sound = sound;
    this.rateHz = place.sessionRateHz;
    const ownRateHz = sound.rateHz * (1 + place.driftPpm * 1e-6);
    this.#step = ownRateHz / place.sessionRateHz;
    const start = -place.offsetSec * ownRateHz;
    const whole = Math.round(start);
    this.#start = Math.abs(start - whole) < WHOLE_FRAME ? whole : start;
    const copies = this.#step === 1 && this.#start === whole;
    this.#interpolator = copies ? undefined : makeInterpolator(this.#step);
    this.firstFrame = this.#firstIndexAt(0);
    this.#endFrame = this.#firstIndexAt(sound.lengthFrames);
    this.lengthFrames = Math.max(0, this.#endFrame);
  }

  read(fromFrame: number, target: Float32Array): void {
    const from = Math.max(fromFrame, this.firstFrame);
    const to = Math.min(fromFrame + target.length, this.#endFrame);
    if (to <= from) {
      target.fill(0);
      return;
    }
    if (this.#interpolator === undefined) {
      this.#sound.read(fromFrame + this.#start, target);
      return;
    }
    target.fill(0, 0, from - fromFrame);
    this.#interpolator.run(this.#sound, this.#start, from, target, from - fromFrame, to - from);
    target.fill(0, to - fromFrame);
  }

  /** The first session frame that lies at or after a place of the recording. */
  #firstIndexAt(inputFrame: number): number {
    let index = Math.ceil((inputFrame - this.#start) / this.#step);
    // Rounding of the division can miss by one either way.
    while (this.#start + (index - 1) * this.#step >= inputFrame) index--;
    while (this.#start + index * this.#step < inputFrame) index++;
    return index === 0 ? 0 : index;
  }
}
