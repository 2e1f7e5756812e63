import type { Block } from '../../core/signal/block.ts';

/** A stretch of silence that was put in where a recording lost sound. */
export interface Gap {
  /** Clip time, s. */
  readonly atSec: number;
  readonly lengthSec: number;
}

/** A place where what is given was not recorded in one piece. Frames of what is given. */
export interface Break {
  readonly atFrame: number;
  /** Length of the silence that was put in; 0 where sound that overlapped itself was left out. */
  readonly frames: number;
}

/** What a time line did to the sound it was handed. */
export interface TimeLineReport {
  /** Frames given, silence and all. */
  readonly frames: number;
  /** Silence before the first sound, frames. */
  readonly leadFrames: number;
  readonly gaps: readonly Gap[];
  /** Sound left out because it overlapped what was there before, frames. */
  readonly overlapFrames: number;
  /** Sound left out because it lies before clip time zero or is encoder delay, frames. */
  readonly headFrames: number;
  /** Sound left out because it lies past the end the container tells, frames. */
  readonly tailFrames: number;
  /** Places where the time stamps leapt so far that they were not followed. */
  readonly leaps: number;
  /** How far the last time stamps lie behind (+) or ahead (-) of the count of samples, s. */
  readonly stampDriftSec: number;
}

/** How a time line is laid out. Frames count at the stream's own rate. */
export interface TimeLinePlan {
  readonly rateHz: number;
  readonly channels: number;
  /** Stamp of clip time zero; absent where it is the first stamp, whatever that is. */
  readonly zeroFrame: number | undefined;
  /** Frames at the head of the stream that are encoder delay. */
  readonly primingFrames: number;
  /** Clip time past which nothing is given. */
  readonly endFrame: number | undefined;
  /** Steps between stamps that are smaller than this are not followed, s. */
  readonly toleranceSec: number;
}

/**
 * Stamps that are off by less are taken for the rounding of a coarse clock (Matroska counts in milliseconds), s. The
 * shortest thing a recorder drops is one buffer or AAC frame, 21 ms.
 */
export const STAMP_TOLERANCE_SEC = 0.004;
/** Frames in a block that is given. */
const BLOCK_FRAMES = 65536;
/** A gap longer than this, or a step back longer than the other, is a broken clock and not lost sound, s. */
const LONGEST_GAP_SEC = 900;
const LONGEST_STEP_BACK_SEC = 1;

/**
 * Lays decoded sound on the clip's time line: frame 0 is clip time zero, sound lies where its time stamps say, silence
 * fills the rest. In: runs of frames, each with its stamp, interleaved. Out: planar blocks of 65536 frames at most,
 * whose buffers are reused, or are those that were handed in. Memory: one block.
 */
export class TimeLine {
  readonly #plan: TimeLinePlan;
  readonly #block: Float32Array[];
  #fill = 0;
  #written = 0;
  #zeroFrame: number | undefined;
  #priming: number;
  #stampNext: number | undefined;
  #skip = 0;
  #silence = 0;
  #leadFrames = 0;
  readonly #gaps: Gap[] = [];
  readonly #breaks: Break[] = [];
  #overlapFrames = 0;
  #headFrames = 0;
  #tailFrames = 0;
  #leaps = 0;
  #stampDrift = 0;
  #isAsItCame = true;

  constructor(plan: TimeLinePlan) {
    this.#plan = plan;
    this.#zeroFrame = plan.zeroFrame;
    this.#priming = plan.primingFrames;
    this.#block = Array.from({ length: plan.channels }, () => new Float32Array(BLOCK_FRAMES));
  }

  /** Frames given or ready to be given. */
  get frames(): number {
    return this.#written;
  }

  /** Whether all frames of the line so far are those it was handed, from the first on. */
  get isAsItCame(): boolean {
    return this.#isAsItCame;
  }

  /** Gaps and cuts so far, in order; each is here before its first frame is given. */
  get breaks(): readonly Break[] {
    return this.#breaks;
  }

  /** Announces a run: the stamp of its first frame (absent: it follows the last), and how many frames it has. */
  begin(stamp: number | undefined, frames: number): void {
    if (this.#stampNext === undefined) this.#beginFirst(stamp ?? this.#zeroFrame ?? 0);
    else if (stamp !== undefined) this.#beginNext(stamp, this.#stampNext);
    this.#stampNext = (stamp ?? this.#stampNext ?? 0) + frames;
    if (this.#skip > 0 || this.#silence > 0) this.#isAsItCame = false;
  }

  #beginFirst(stamp: number): void {
    const zero = this.#zeroFrame ?? stamp + this.#priming;
    this.#zeroFrame = zero;
    const soundFrom = stamp - zero + this.#priming;
    this.#skip = this.#priming + Math.max(0, -soundFrom);
    this.#headFrames = this.#skip;
    this.#silence = Math.max(0, soundFrom);
    this.#leadFrames = this.#silence;
    this.#stampNext = stamp;
  }

  #beginNext(stamp: number, expected: number): void {
    const { rateHz, toleranceSec } = this.#plan;
    const jump = stamp - expected;
    // Frames still to be skipped of the run before are on the line already as far as the stamps go.
    const behind = stamp - this.#zeroFrame! - this.#written - this.#silence + this.#skip;
    if (Math.abs(jump) <= toleranceSec * rateHz) {
      this.#stampDrift = behind;
      return;
    }
    if (jump > LONGEST_GAP_SEC * rateHz || jump < -LONGEST_STEP_BACK_SEC * rateHz) {
      this.#leaps++;
      this.#zeroFrame! += jump;
      return;
    }
    // What is still to be skipped at the head is no part of what is given.
    if (this.#written > 0) this.#breaks.push({ atFrame: this.#written + this.#silence, frames: Math.max(0, behind) });
    if (behind > 0) {
      this.#gaps.push({ atSec: (this.#written + this.#silence) / rateHz, lengthSec: behind / rateHz });
      this.#silence += behind;
    } else {
      this.#skip += -behind;
      this.#overlapFrames += -behind;
    }
    this.#stampDrift = 0;
  }

  /** Takes the frames of the run announced last, in one piece or several; gives the blocks that are full. */
  *push(samples: Float32Array, frames: number): Generator<Block> {
    const skipped = Math.min(this.#skip, frames);
    this.#skip -= skipped;
    if (skipped === frames) return;
    yield* this.#pushSilence();
    const { endFrame, channels } = this.#plan;
    const room = endFrame === undefined ? frames : Math.max(0, endFrame - this.#written + skipped);
    const until = Math.min(frames, room);
    this.#tailFrames += frames - Math.max(until, skipped);
    let from = skipped;
    while (from < until) {
      const count = Math.min(until - from, BLOCK_FRAMES - this.#fill);
      if (channels === 1 && count === BLOCK_FRAMES) {
        // A whole block of one channel needs no copy.
        this.#written += count;
        yield [samples.subarray(from, from + count)];
        from += count;
        continue;
      }
      for (let channel = 0; channel < channels; channel++) {
        copyChannel(samples, from * channels + channel, channels, this.#block[channel]!, this.#fill, count);
      }
      from += count;
      if (this.#advance(count)) yield this.#give();
    }
  }

  *#pushSilence(): Generator<Block> {
    const { endFrame } = this.#plan;
    let left = endFrame === undefined ? this.#silence : Math.min(this.#silence, Math.max(0, endFrame - this.#written));
    this.#silence = 0;
    while (left > 0) {
      const count = Math.min(left, BLOCK_FRAMES - this.#fill);
      for (const channel of this.#block) channel.fill(0, this.#fill, this.#fill + count);
      left -= count;
      if (this.#advance(count)) yield this.#give();
    }
  }

  #advance(count: number): boolean {
    this.#fill += count;
    this.#written += count;
    return this.#fill === BLOCK_FRAMES;
  }

  #give(): Block {
    const block = this.#block.map((channel) => channel.subarray(0, this.#fill));
    this.#fill = 0;
    return block;
  }

  /** The last, shorter block; none when nothing is left. */
  *finish(): Generator<Block> {
    if (this.#fill > 0) yield this.#give();
  }

  report(): TimeLineReport {
    return {
      frames: this.#written,
      leadFrames: this.#leadFrames,
      gaps: this.#gaps,
      overlapFrames: this.#overlapFrames,
      headFrames: this.#headFrames,
      tailFrames: this.#tailFrames,
      leaps: this.#leaps,
      stampDriftSec: this.#stampDrift / this.#plan.rateHz,
    };
  }
}

function copyChannel(
  samples: Float32Array,
  first: number,
  stride: number,
  target: Float32Array,
  at: number,
  count: number,
): void {
  if (stride === 1) {
    target.set(samples.subarray(first, first + count), at);
    return;
  }
  for (let n = 0, from = first; n < count; n++, from += stride) target[at + n] = samples[from]!;
}
