import { type Block, blockLength } from '../../core/signal/block.ts';
import { EDGE_FADE_SEC, GapBridge, LONGEST_BRIDGED_SEC } from '../../core/signal/gap-bridge.ts';
import { LEARNT_FRAMES } from '../../core/signal/sound-extension.ts';
import type { Break } from './time-line.ts';

/** Over so much of what follows a cut is smoothed, s. */
const SMOOTH_SEC = 0.005;

interface Repair {
  readonly kind: 'bridge' | 'fadeOut' | 'fadeIn' | 'smooth';
  readonly atFrame: number;
  readonly frames: number;
}

/**
 * Takes the holes out of sound that is given block by block: up to 60 ms of silence that was put in for lost sound are bridged
 * with the sound around them, longer ones are faded into and out of, cuts are smoothed. Elsewhere every sample passes as it
 * is. Blocks are held back only behind a hole, until 80 ms of what follows are known. In: blocks in order, and the breaks
 * of all that lies in them. Out: the same number of frames, in buffers that are reused.
 */
export class GapMender {
  readonly #rateHz: number;
  readonly #bridge = new GapBridge();
  /** The last frames given, the nearest at the end. */
  readonly #history: Float32Array[];
  #known = 0;
  #frame = 0;
  #breaksSeen = 0;
  readonly #repairs: Repair[] = [];
  #held: Float32Array[];
  #heldFrames = 0;

  constructor(channels: number, rateHz: number) {
    this.#rateHz = rateHz;
    this.#history = Array.from({ length: channels }, () => new Float32Array(LEARNT_FRAMES));
    const most = Math.ceil(LONGEST_BRIDGED_SEC * rateHz) + LEARNT_FRAMES;
    this.#held = Array.from({ length: channels }, () => new Float32Array(most));
  }

  *push(block: Block, breaks: readonly Break[]): Generator<Block> {
    for (; this.#breaksSeen < breaks.length; this.#breaksSeen++) this.#plan(breaks[this.#breaksSeen]!);
    const frames = blockLength(block);
    let at = 0;
    while (at < frames) {
      const next = this.#repairs[0];
      if (next === undefined || next.atFrame >= this.#frame + frames - at) {
        yield* this.#give(cut(block, at, frames));
        return;
      }
      const ahead = next.atFrame - this.#frame;
      if (ahead > 0) {
        yield* this.#give(cut(block, at, at + ahead));
        at += ahead;
      }
      const some = Math.min(this.#wanted() - this.#heldFrames, frames - at);
      for (const [channel, samples] of this.#held.entries()) {
        samples.set(block[channel]!.subarray(at, at + some), this.#heldFrames);
      }
      this.#heldFrames += some;
      at += some;
      if (this.#heldFrames >= this.#wanted()) yield* this.#mend();
    }
  }

  /** What is still held, when no more comes. */
  *finish(): Generator<Block> {
    if (this.#heldFrames > 0) yield* this.#mend();
  }

  #plan({ atFrame, frames }: Break): void {
    const edge = Math.round(EDGE_FADE_SEC * this.#rateHz);
    if (frames === 0) {
      this.#repairs.push({ kind: 'smooth', atFrame, frames: Math.round(SMOOTH_SEC * this.#rateHz) });
    } else if (frames <= LONGEST_BRIDGED_SEC * this.#rateHz) this.#repairs.push({ kind: 'bridge', atFrame, frames });
    else {
      this.#repairs.push({ kind: 'fadeOut', atFrame, frames: edge });
      this.#repairs.push({ kind: 'fadeIn', atFrame: atFrame + frames - edge, frames: edge });
    }
  }

  /** Frames to hold from the beginning of the next repair on: as many as it learns from, up to the one after it. */
  #wanted(): number {
    const [one, next] = this.#repairs as [Repair, Repair | undefined];
    const learns = one.kind === 'bridge' || one.kind === 'fadeIn';
    const most = one.frames + (learns ? LEARNT_FRAMES : 0);
    return next === undefined ? most : Math.max(1, Math.min(most, next.atFrame - one.atFrame));
  }

  *#mend(): Generator<Block> {
    const { kind, frames } = this.#repairs.shift()!;
    const length = Math.min(frames, this.#heldFrames);
    for (const [channel, held] of this.#held.entries()) {
      const before = this.#history[channel]!.subarray(LEARNT_FRAMES - this.#known);
      const hole = held.subarray(0, length);
      const after = held.subarray(length, this.#heldFrames);
      if (kind === 'smooth') this.#bridge.smooth(before, hole);
      else if (kind === 'fadeOut' || (kind === 'bridge' && after.length === 0)) this.#bridge.fadeOut(before, hole);
      else if (kind === 'fadeIn') this.#bridge.fadeIn(after, hole);
      else this.#bridge.bridge(before, after, hole);
    }
    const given = cut(this.#held, 0, this.#heldFrames);
    this.#heldFrames = 0;
    yield* this.#give(given);
  }

  *#give(block: Block): Generator<Block> {
    const frames = blockLength(block);
    const some = Math.min(frames, LEARNT_FRAMES);
    for (const [channel, history] of this.#history.entries()) {
      history.copyWithin(0, some);
      history.set(block[channel]!.subarray(frames - some), LEARNT_FRAMES - some);
    }
    this.#known = Math.min(LEARNT_FRAMES, this.#known + some);
    this.#frame += frames;
    yield block;
  }
}

function cut(block: Block, from: number, to: number): Block {
  return block.map((samples) => samples.subarray(from, to));
}
