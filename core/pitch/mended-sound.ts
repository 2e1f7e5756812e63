import type { Interpolator } from '../signal/interpolator.ts';
import { makeInterpolator } from '../signal/resample.ts';
import type { Sound } from '../signal/sound.ts';

/** How a sound is to be read so that its pitch and its time move each by itself. Plain data. */
export interface Reading {
  readonly rateHz: number;
  /** By `atFrame`; the first at frame 0. */
  readonly pieces: readonly ReadingPiece[];
}

/** From `atFrame` on the sound is read from `fromPlace` on (frames, fractional) at the speed of `cents`. */
export interface ReadingPiece {
  readonly atFrame: number;
  readonly fromPlace: number;
  readonly cents: number;
  /** Cross-fade from the piece before, frames; 0 where the reading only changes its speed. */
  readonly fadeFrames: number;
  /** Likeness of what is cross-faded. */
  readonly likeness: number;
}

/** Frames of the sound for a frame of the result. */
export function speedOf(cents: number): number {
  return 2 ** (cents / 1200);
}

/** Where a piece reads the sound at a frame of the result. */
export function placeIn(piece: ReadingPiece, frame: number): number {
  return piece.fromPlace + (frame - piece.atFrame) * speedOf(piece.cents);
}

/**
 * A sound read by a plan of `planMend`: as long as before, its pitch and its time mended. Any part can be read at any time. Where
 * the plan moves nothing, the samples are those of the sound to the bit. Memory: an interpolator for each speed (see
 * interpolator.ts).
 */
export class MendedSound implements Sound {
  readonly rateHz: number;
  readonly lengthFrames: number;
  readonly #sound: Sound;
  readonly #pieces: readonly ReadingPiece[];
  readonly #interpolators = new Map<number, Interpolator>();
  #scratch = new Float32Array(0);

  constructor(sound: Sound, reading: Reading) {
    if (reading.rateHz !== sound.rateHz)
      throw new RangeError(`the plan is for ${reading.rateHz} Hz, not ${sound.rateHz}`);
    this.rateHz = sound.rateHz;
    this.lengthFrames = sound.lengthFrames;
    this.#sound = sound;
    this.#pieces = reading.pieces;
  }

  read(fromFrame: number, target: Float32Array): void {
    target.fill(0);
    const end = Math.min(this.lengthFrames, fromFrame + target.length);
    let index = this.#pieceAt(Math.max(0, fromFrame));
    for (let frame = Math.max(0, fromFrame); frame < end; index++) {
      const piece = this.#pieces[index]!;
      const next = Math.min(end, this.#pieces[index + 1]?.atFrame ?? end);
      this.#readPiece(piece, frame, target, frame - fromFrame, next - frame);
      const fadeEnd = piece.atFrame + piece.fadeFrames;
      if (frame < fadeEnd) this.#fade(index, frame, target, frame - fromFrame, Math.min(next, fadeEnd) - frame);
      frame = next;
    }
  }

  /** Blends what the piece before would have gone on with into the beginning of a piece. */
  #fade(index: number, frame: number, target: Float32Array, at: number, count: number): void {
    const piece = this.#pieces[index]!;
    if (this.#scratch.length < count) this.#scratch = new Float32Array(count);
    this.#readPiece(this.#pieces[index - 1]!, frame, this.#scratch, 0, count);
    for (let n = 0; n < count; n++) {
      const part = 0.5 - 0.5 * Math.cos((Math.PI * (frame + n - piece.atFrame + 0.5)) / piece.fadeFrames);
      // Keeps the power whatever the likeness: 1 for the same sound, equal power for strangers.
      const level = Math.sqrt(part * part + (1 - part) * (1 - part) + 2 * piece.likeness * part * (1 - part));
      target[at + n] = (part * target[at + n]! + (1 - part) * this.#scratch[n]!) / level;
    }
  }

  #readPiece(piece: ReadingPiece, frame: number, target: Float32Array, at: number, count: number): void {
    if (piece.cents === 0 && Number.isInteger(piece.fromPlace)) {
      this.#sound.read(piece.fromPlace + frame - piece.atFrame, target.subarray(at, at + count));
      return;
    }
    let interpolator = this.#interpolators.get(piece.cents);
    if (interpolator === undefined) {
      interpolator = makeInterpolator(speedOf(piece.cents));
      this.#interpolators.set(piece.cents, interpolator);
    }
    const start = piece.fromPlace - piece.atFrame * speedOf(piece.cents);
    interpolator.run(this.#sound, start, frame, target, at, count);
  }

  #pieceAt(frame: number): number {
    let low = 0;
    let high = this.#pieces.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.#pieces[middle]!.atFrame <= frame) low = middle;
      else high = middle - 1;
    }
    return low;
  }
}
