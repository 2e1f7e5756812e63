import type { Block, Processor } from '../signal/block.ts';
import { BlockBuffer } from '../signal/block-buffer.ts';
import type { ClipFacts } from './clip-facts.ts';
import { SampleRestorer } from './sample-restorer.ts';

/** Frames that are mended together. */
const TILE = 2048;
/** Frames before and behind the cut samples that they are restored from. */
const CONTEXT = 1024;
/** Longest stretch solved at once; longer runs of cut samples are left as they are. */
const LONGEST = 768;

/**
 * Restores the tops of clipped waves, one channel: cut samples become what an autoregressive model of the sound around
 * them predicts, never below the level they were cut at. See `SampleRestorer`. Peaks may pass 1.
 */
export class Declipper implements Processor {
  readonly latencyFrames = TILE + LONGEST + CONTEXT;
  readonly #clip: ClipFacts;
  readonly #restorer: SampleRestorer;
  /** CONTEXT frames already given out, then what is still to be mended. */
  readonly #held = new Float64Array(CONTEXT + 2 * TILE + LONGEST + CONTEXT);
  readonly #output = new BlockBuffer(1);
  readonly #ready: Float32Array;
  #filled = CONTEXT;
  #mendedTo = CONTEXT;
  #readyFrom = 0;
  #readyTo = 0;

  constructor(clip: ClipFacts) {
    this.#clip = clip;
    this.#restorer = new SampleRestorer(LONGEST + 2 * CONTEXT);
    this.#ready = new Float32Array(2 * (TILE + LONGEST + CONTEXT));
  }

  reset(): void {
    this.#held.fill(0);
    this.#filled = CONTEXT;
    this.#mendedTo = CONTEXT;
    this.#readyFrom = 0;
    this.#readyTo = 0;
    this.#inFrames = 0;
    this.#outFrames = 0;
  }

  #inFrames = 0;
  #outFrames = 0;

  process(input: Block): Block {
    const samples = input[0]!;
    const before = this.#inFrames;
    this.#inFrames += samples.length;
    const give = Math.max(0, this.#inFrames - this.latencyFrames) - this.#outFrames;
    const output = this.#output.take(give);
    let written = 0;
    // Fed by pieces, so that what waits stays within the buffers.
    for (let from = 0; from < samples.length; ) {
      const count = Math.min(samples.length - from, TILE);
      this.#take(samples, from, count);
      from += count;
      const due = Math.max(0, before + from - this.latencyFrames) - this.#outFrames;
      this.#move(output[0]!, written, due);
      written += due;
    }
    return output;
  }

  flush(): Block {
    const left = this.#inFrames - this.#outFrames;
    const output = this.#output.take(left);
    const zeros = new Float32Array(TILE);
    let written = 0;
    while (written < left) {
      const count = Math.min(left - written, this.#readyTo - this.#readyFrom);
      this.#move(output[0]!, written, count);
      written += count;
      if (written < left) this.#take(zeros, 0, TILE);
    }
    return output;
  }

  #take(samples: Float32Array, from: number, count: number): void {
    const held = this.#held;
    for (let n = 0; n < count; n++) held[this.#filled + n] = samples[from + n]!;
    this.#filled += count;
    while (this.#filled >= CONTEXT + TILE + LONGEST + CONTEXT) this.#mendTile();
  }

  #move(target: Float32Array, at: number, count: number): void {
    if (count <= 0) return;
    target.set(this.#ready.subarray(this.#readyFrom, this.#readyFrom + count), at);
    this.#readyFrom += count;
    this.#outFrames += count;
  }

  #mendTile(): void {
    const held = this.#held;
    const threshold = this.#clip.threshold;
    const tileEnd = CONTEXT + TILE;
    let at = Math.max(CONTEXT, this.#mendedTo);
    while (at < tileEnd) {
      if (Math.abs(held[at]!) < threshold) {
        at++;
        continue;
      }
      at = this.#mendFrom(at, tileEnd);
    }
    this.#mendedTo = at - TILE;
    this.#ready.copyWithin(0, this.#readyFrom, this.#readyTo);
    this.#readyTo -= this.#readyFrom;
    this.#readyFrom = 0;
    for (let n = 0; n < TILE; n++) this.#ready[this.#readyTo + n] = held[CONTEXT + n]!;
    this.#readyTo += TILE;
    held.copyWithin(0, TILE, this.#filled);
    this.#filled -= TILE;
  }

  /** Mends the run that begins at `first` and those that follow closely. Returns the frame behind them. */
  #mendFrom(first: number, tileEnd: number): number {
    const held = this.#held;
    const threshold = this.#clip.threshold;
    let end = first;
    let lastCut = first;
    for (let n = first; n < first + LONGEST; n++) {
      if (Math.abs(held[n]!) >= threshold) lastCut = n;
      else if (lastCut === n - 1) {
        end = n;
        if (n >= tileEnd) break;
      }
    }
    if (end === first) {
      // Longer than can be solved: left alone.
      let n = first;
      while (n < first + LONGEST && Math.abs(held[n]!) >= threshold) n++;
      return n;
    }
    this.#restorer.restore(held, first - CONTEXT, end + CONTEXT, first, end, this.#clip);
    return end;
  }
}
