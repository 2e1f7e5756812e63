import { dbToRatio } from '../signal/decibels.ts';
import type { Sound } from '../signal/sound.ts';
import { Brightness } from './brightness.ts';

/** A take in a composed sound. */
export interface ComposedPart {
  /** On the session's time line, at the rate of all. */
  readonly sound: Sound;
  /** That makes it as loud as the other parts as a whole, dB. */
  readonly gainDb: number;
}

/** Where one part gives over to the next. */
export interface ComposedJoin {
  /** Session frame of the middle of the crossfade. */
  readonly frame: number;
  readonly fadeFrames: number;
  /** By how much the part before is louder than the one after it at this place, with their gains, dB. */
  readonly stepDb: number;
  /** By how much it is brighter there, dB; see JoinMatch. */
  readonly tiltDb: number;
  /** See JoinMatch. */
  readonly likeness: number;
}

/** Over how long a part that was matched to its neighbour goes back to its own level, s. Slower than any phrase swells. */
export const GLIDE_SEC = 4;

/**
 * A voice made of passages: one part after another, with a crossfade at each join whose power is even for waves as alike
 * as they were found to be (Fink, Holters, Zölzer, Signal-matched power-complementary cross-fading, 2016; equal power
 * where they are not). Level and tone are matched at the joins, half by each side, and glide back over GLIDE_SEC. Any stretch can
 * be read at any time; the result does not depend on how it was asked for. A part's own samples, where its gain is 0 dB
 * and no join is near, come through to the bit.
 */
export class ComposedSound implements Sound {
  readonly rateHz: number;
  readonly lengthFrames: number;
  readonly #parts: readonly ComposedPart[];
  readonly #joins: readonly ComposedJoin[];
  readonly #brightness: Brightness;
  #scratch = new Float32Array(0);
  #wide = new Float32Array(0);

  /** joins: one fewer than parts, in order, their fades apart. */
  constructor(parts: readonly ComposedPart[], joins: readonly ComposedJoin[]) {
    if (parts.length === 0 || joins.length !== parts.length - 1) {
      throw new RangeError(`${parts.length} parts have ${joins.length} joins; allowed is one fewer than parts`);
    }
    joins.forEach((join, index) => {
      const next = joins[index + 1];
      if (next !== undefined && fadeEnd(join) > fadeStart(next)) {
        throw new RangeError(`the fades of joins ${index} and ${index + 1} meet`);
      }
    });
    const last = parts.at(-1)!.sound;
    this.rateHz = last.rateHz;
    this.#brightness = new Brightness(this.rateHz);
    this.#parts = parts;
    this.#joins = joins;
    const lastJoin = joins.at(-1);
    this.lengthFrames = Math.max(last.lengthFrames, lastJoin === undefined ? 0 : fadeEnd(lastJoin));
  }

  read(fromFrame: number, target: Float32Array): void {
    const toFrame = fromFrame + target.length;
    let written = fromFrame;
    for (let index = 0; index < this.#parts.length; index++) {
      const from = Math.max(fromFrame, this.#startOf(index));
      const to = Math.min(toFrame, this.#endOf(index));
      if (to <= from) continue;
      const samples = this.#shaped(index, from, to);
      const at = from - fromFrame;
      const overlap = Math.max(0, written - from);
      for (let n = 0; n < overlap; n++) target[at + n]! += samples[n]!;
      target.set(samples.subarray(overlap), at + overlap);
      written = Math.max(written, to);
    }
  }

  #startOf(index: number): number {
    return index === 0 ? Number.NEGATIVE_INFINITY : fadeStart(this.#joins[index - 1]!);
  }

  #endOf(index: number): number {
    return index === this.#joins.length ? Number.POSITIVE_INFINITY : fadeEnd(this.#joins[index]!);
  }

  /** The samples of a part with its gain, tone and fades; valid until the next call. */
  #shaped(index: number, from: number, to: number): Float32Array {
    const { reach } = this.#brightness;
    const frames = to - from;
    if (this.#scratch.length < frames) this.#scratch = new Float32Array(frames);
    const samples = this.#scratch.subarray(0, frames);
    const { sound, gainDb } = this.#parts[index]!;
    const before = this.#joins[index - 1];
    const after = this.#joins[index];
    const levels = new PartLevel(gainDb, before, after, this.rateHz);
    const isToned = levels.isToned(from, to);
    let wide = samples;
    if (isToned) {
      if (this.#wide.length !== frames + 2 * reach) this.#wide = new Float32Array(frames + 2 * reach);
      wide = this.#wide;
      sound.read(from - reach, wide);
      samples.set(wide.subarray(reach, reach + frames));
    } else sound.read(from, samples);
    if (!levels.isMoving(from, to)) {
      const gain = dbToRatio(gainDb);
      if (gain !== 1) for (let n = 0; n < frames; n++) samples[n]! *= gain;
      return samples;
    }
    for (let n = 0; n < frames; n++) {
      const frame = from + n;
      const tiltDb = isToned ? levels.tiltAt(frame) : 0;
      if (tiltDb !== 0) samples[n] = this.#brightness.at(wide, n + reach, dbToRatio(tiltDb));
      const levelDb = levels.at(frame);
      let gain = levelDb === 0 ? 1 : dbToRatio(levelDb);
      if (before !== undefined && frame < fadeEnd(before)) gain *= fadeAt(before, frame, true);
      if (after !== undefined && frame >= fadeStart(after)) gain *= fadeAt(after, frame, false);
      if (gain !== 1) samples[n]! *= gain;
    }
    return samples;
  }
}

/** Gain and tone of one part without its fades: its own, and what matches it to its neighbours at the joins. */
export class PartLevel {
  readonly #gainDb: number;
  readonly #before: ComposedJoin | undefined;
  readonly #after: ComposedJoin | undefined;
  readonly #glideFrames: number;

  constructor(gainDb: number, before: ComposedJoin | undefined, after: ComposedJoin | undefined, rateHz: number) {
    this.#gainDb = gainDb;
    this.#before = before;
    this.#after = after;
    const whole = GLIDE_SEC * rateHz;
    // In a short passage the glides of its two joins meet.
    this.#glideFrames =
      before === undefined || after === undefined ? whole : Math.min(whole, after.frame - before.frame);
  }

  /** dB at a session frame. */
  at(frame: number): number {
    const before = this.#before;
    const after = this.#after;
    let levelDb = this.#gainDb;
    if (before !== undefined) levelDb += 0.5 * before.stepDb * this.#since(frame);
    if (after !== undefined) levelDb -= 0.5 * after.stepDb * this.#until(frame);
    return levelDb;
  }

  /** How much brighter it is made at a session frame, dB. */
  tiltAt(frame: number): number {
    const before = this.#before;
    const after = this.#after;
    let tiltDb = 0;
    if (before !== undefined && before.tiltDb !== 0) tiltDb += 0.5 * before.tiltDb * this.#since(frame);
    if (after !== undefined && after.tiltDb !== 0) tiltDb -= 0.5 * after.tiltDb * this.#until(frame);
    return tiltDb;
  }

  /** Whether a join is so near to a stretch that something changes in it. */
  isMoving(from: number, to: number): boolean {
    const before = this.#before;
    const after = this.#after;
    return (
      (before !== undefined && from < Math.max(before.frame + this.#glideFrames, fadeEnd(before))) ||
      (after !== undefined && to > Math.min(after.frame - this.#glideFrames, fadeStart(after)))
    );
  }

  /** Whether its tone is changed anywhere in a stretch. */
  isToned(from: number, to: number): boolean {
    const before = this.#before;
    const after = this.#after;
    const glide = this.#glideFrames;
    return (
      (before !== undefined && before.tiltDb !== 0 && from < before.frame + glide) ||
      (after !== undefined && after.tiltDb !== 0 && to > after.frame - glide)
    );
  }

  #since(frame: number): number {
    return glideAt((frame - this.#before!.frame) / this.#glideFrames);
  }

  #until(frame: number): number {
    return glideAt((this.#after!.frame - frame) / this.#glideFrames);
  }
}

function fadeStart({ frame, fadeFrames }: ComposedJoin): number {
  return frame - Math.floor(fadeFrames / 2);
}

function fadeEnd(join: ComposedJoin): number {
  return fadeStart(join) + join.fadeFrames;
}

/** 1 at the join, 0 a glide away from it. */
function glideAt(part: number): number {
  if (part >= 1) return 0;
  return part <= 0 ? 1 : 0.5 + 0.5 * Math.cos(Math.PI * part);
}

function fadeAt(join: ComposedJoin, frame: number, isIn: boolean): number {
  const angle = ((Math.PI / 2) * (frame - fadeStart(join) + 0.5)) / join.fadeFrames;
  const weight = isIn ? Math.sin(angle) : Math.cos(angle);
  return weight / Math.sqrt(1 + join.likeness * Math.sin(2 * angle));
}
