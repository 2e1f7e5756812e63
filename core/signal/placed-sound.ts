import type { Clock } from './clock.ts';
import { assertInRange } from './fault.ts';
import { type Seam, SeamMaker, seamsOf } from './placed-seam.ts';
import { firstIndexAt, type PlacedStretch, readStretch, stretchesOf } from './placed-stretch.ts';
import { sharpened } from './sharp-break.ts';
import type { Sound } from './sound.ts';

/** Where a recording lies on the session's time line; drifts within 2000 ppm. */
export interface PlaceOnLine extends Clock {
  readonly sessionRateHz: number;
}

/**
 * A recording on the session's clock: frame n sounds at session time n / sessionRateHz. Frames before its first and past
 * its last are 0. Rate and drift are corrected in one windowed-sinc pass; at the session's own rate, without drift and on
 * a whole frame the samples are copied to the bit. Any part can be read at any time: the result does not depend on how it
 * was asked for. Quality: see interpolator.ts. Allocates nothing while running when the lengths asked for stay the same.
 *
 * Where its clock bends it runs on at another speed from the same place. Where its clock jumps, up to 60 ms of lost sound are
 * bridged from both sides, a longer gap fades to silence and back, and doubled sound is crossfaded in its middle; see
 * placed-seam.ts. A jump that is told up to 20 ms off the break that is to be seen in the recording is laid there (sharp-break.ts). Some 1 MB more for a clock that jumps; a seam is made when it is first read, in some 40 ms.
 */
export class PlacedSound implements Sound {
  readonly rateHz: number;
  /** First session frame after the recording; 0 when it ends before session time zero. */
  readonly lengthFrames: number;
  /** First session frame at or after the recording's first sample; negative when it began earlier. */
  readonly firstFrame: number;
  readonly #sound: Sound;
  readonly #endFrame: number;
  readonly #stretches: readonly PlacedStretch[];
  readonly #seams: readonly (Seam & { readonly samples: Float32Array })[];
  readonly #maker: SeamMaker | undefined;
  readonly #made: boolean[];

  constructor(sound: Sound, place: PlaceOnLine) {
    assertInRange('driftPpm', place.driftPpm, -2000, 2000);
    assertInRange('offsetSec', place.offsetSec, -1e6, 1e6);
    for (const bend of place.bends ?? []) assertInRange('driftPpm of a bend', bend.driftPpm, -2000, 2000);
    this.#sound = sound;
    this.rateHz = place.sessionRateHz;
    this.#stretches = stretchesOf(sharpened(place, sound), sound.rateHz, sound.lengthFrames, place.sessionRateHz);
    const seams = seamsOf(this.#stretches, place.sessionRateHz);
    this.#seams = seams.map((seam) => ({ ...seam, samples: new Float32Array(seam.toFrame - seam.fromFrame) }));
    this.#made = seams.map(() => false);
    this.#maker = seams.length === 0 ? undefined : new SeamMaker(sound, seams);
    this.firstFrame = firstIndexAt(this.#stretches[0]!, 0);
    this.#endFrame = firstIndexAt(this.#stretches.at(-1)!, sound.lengthFrames);
    this.lengthFrames = Math.max(0, this.#endFrame);
  }

  read(fromFrame: number, target: Float32Array): void {
    const from = Math.max(fromFrame, this.firstFrame);
    const to = Math.min(fromFrame + target.length, this.#endFrame);
    if (to <= from) {
      target.fill(0);
      return;
    }
    if (this.#stretches.length === 1) this.#readOne(fromFrame, target, from, to);
    else this.#readMany(fromFrame, target, from, to);
  }

  #readOne(fromFrame: number, target: Float32Array, from: number, to: number): void {
    const stretch = this.#stretches[0]!;
    if (stretch.interpolator === undefined) {
      readStretch(stretch, this.#sound, fromFrame, target, 0, target.length);
      return;
    }
    target.fill(0, 0, from - fromFrame);
    readStretch(stretch, this.#sound, from, target, from - fromFrame, to - from);
    target.fill(0, to - fromFrame);
  }

  #readMany(fromFrame: number, target: Float32Array, from: number, to: number): void {
    target.fill(0);
    const stretches = this.#stretches;
    for (let n = 0; n < stretches.length; n++) {
      const one = stretches[n]!;
      const first = Math.max(from, one.heardFrom);
      const end = Math.min(to, stretches[n + 1]?.heardFrom ?? to);
      if (end > first) this.#readHeard(one, fromFrame, target, first, end);
    }
    for (let n = 0; n < this.#seams.length; n++) {
      const seam = this.#seams[n]!;
      const first = Math.max(from, seam.fromFrame);
      const end = Math.min(to, seam.toFrame);
      if (end <= first) continue;
      if (!this.#made[n]) this.#maker!.make(seam, seam.samples);
      this.#made[n] = true;
      for (let frame = first; frame < end; frame++) target[frame - fromFrame] = seam.samples[frame - seam.fromFrame]!;
    }
  }

  /** What of a stretch is not seam; the silence of a gap lies between its two. */
  #readHeard(one: PlacedStretch, fromFrame: number, target: Float32Array, first: number, end: number): void {
    let from = first;
    let to = end;
    for (const seam of this.#seams) {
      if (seam.right === one) from = Math.max(from, seam.toFrame);
      if (seam.left === one) to = Math.min(to, seam.fromFrame);
    }
    if (to > from) readStretch(one, this.#sound, from, target, from - fromFrame, to - from);
  }
}
