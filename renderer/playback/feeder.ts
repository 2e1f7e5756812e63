import type { Chunk } from './messages.ts';
import { loopOf, type PlannedPiece, piecesOf, SEAM_FRAMES, type StreamPlan, streamLength } from './stream-plan.ts';

/** The sound reaches so far ahead of what is heard: 3 s. */
const AHEAD_FRAMES = 144_000;
/** Frames of a chunk: 1 s; the first ones are shorter, so that the sound begins soon and does not wait for the next. */
const CHUNK_FRAMES = 48_000;
const FIRST_FRAMES = 19_200;
const SECOND_FRAMES = 24_000;
/** Most that one request may ask for. */
const MOST_READ_FRAMES = 480_000;
/** A loop this short is kept whole instead of being asked for again and again: 8 s. */
const KEPT_LOOP_FRAMES = 384_000;
const FIRST_RETRY_MS = 250;
const MOST_RETRY_MS = 4000;
const TELL_AFTER_TRIES = 3;

/** Reads frames of all sources of a stream, planar: source after source. Frames outside the session are silent. */
export type ReadStretch = (
  fromFrame: number,
  frames: number,
  cancel: AbortSignal,
) => Promise<Float32Array<ArrayBuffer>>;

export interface FeederOptions {
  readonly epoch: number;
  readonly plan: StreamPlan;
  readonly sourceCount: number;
  /** First stream frame to bring, 0 or less. */
  readonly firstFrame: number;
  readonly read: ReadStretch;
  readonly give: (chunk: Chunk) => void;
  /** Reading fails again and again; it is still tried. */
  readonly onTrouble: (error: unknown) => void;
}

/**
 * Brings the sound of one stream, a second at a time, a few seconds ahead of what is used. One request at a time; a failed
 * one is tried again, slower and slower. Holds no more than a chunk, and a short loop.
 */
export class Feeder {
  readonly #options: FeederOptions;
  readonly #cancel = new AbortController();
  readonly #length: number;
  #at: number;
  #used: number;
  #busy = false;
  #kept: Promise<Float32Array> | undefined;

  constructor(options: FeederOptions) {
    this.#options = options;
    this.#at = options.firstFrame;
    this.#used = 0;
    this.#length = streamLength(options.plan);
    void this.#bring();
  }

  get epoch(): number {
    return this.#options.epoch;
  }

  /** Tells how far the stream was used. */
  use(streamFrame: number): void {
    this.#used = Math.max(this.#used, streamFrame);
    void this.#bring();
  }

  stop(): void {
    this.#cancel.abort();
  }

  async #bring(): Promise<void> {
    if (this.#busy) return;
    this.#busy = true;
    try {
      while (!this.#cancel.signal.aborted && this.#at < this.#length && this.#at - this.#used < AHEAD_FRAMES) {
        const chunk = await this.#persist(() => this.#makeChunk());
        if (chunk === undefined) return;
        this.#at += chunk.frames;
        this.#options.give(chunk);
      }
    } finally {
      this.#busy = false;
    }
  }

  async #makeChunk(): Promise<Chunk> {
    const { epoch, plan, sourceCount, firstFrame } = this.#options;
    const wanted =
      this.#at === firstFrame ? FIRST_FRAMES - firstFrame : this.#at === FIRST_FRAMES ? SECOND_FRAMES : CHUNK_FRAMES;
    const frames = Math.min(wanted, this.#length - this.#at);
    const pieces = piecesOf(plan, this.#at, frames);
    const samples = new Float32Array(sourceCount * frames);
    for (const piece of pieces) {
      const read = await this.#readPiece(piece);
      for (let source = 0; source < sourceCount; source++) {
        samples.set(read.subarray(source * piece.frames, (source + 1) * piece.frames), source * frames + piece.at);
      }
      await this.#closeSeam(piece, samples, frames);
    }
    return {
      kind: 'chunk',
      epoch,
      streamFrame: this.#at,
      frames,
      pieces: pieces.map(({ at, sessionFrame }) => ({ at, sessionFrame })),
      samples,
      last: this.#at + frames >= this.#length,
    };
  }

  async #readPiece(piece: PlannedPiece): Promise<Float32Array> {
    const loop = loopOf(this.#options.plan);
    const { sessionFrame, frames } = piece;
    if (
      loop === null ||
      loop.toFrame - loop.fromFrame > KEPT_LOOP_FRAMES ||
      sessionFrame < loop.fromFrame - SEAM_FRAMES
    ) {
      return this.#read(sessionFrame, frames);
    }
    const keptFrom = loop.fromFrame - SEAM_FRAMES;
    const keptFrames = loop.toFrame - keptFrom;
    if (this.#kept === undefined) {
      this.#kept = this.#read(keptFrom, keptFrames);
      this.#kept.catch(() => {
        this.#kept = undefined;
      });
    }
    const kept = await this.#kept;
    const { sourceCount } = this.#options;
    const cut = new Float32Array(sourceCount * frames);
    for (let source = 0; source < sourceCount; source++) {
      const from = source * keptFrames + sessionFrame - keptFrom;
      cut.set(kept.subarray(from, from + frames), source * frames);
    }
    return cut;
  }

  /** Lets the last frames of a loop change to those before its start, so that the wrap has no edge. */
  async #closeSeam(piece: PlannedPiece, samples: Float32Array, chunkFrames: number): Promise<void> {
    const loop = loopOf(this.#options.plan);
    if (loop === null) return;
    const seamFrom = loop.toFrame - SEAM_FRAMES;
    const from = Math.max(piece.sessionFrame, seamFrom);
    const to = piece.sessionFrame + piece.frames;
    if (to <= from) return;
    const into = from - seamFrom;
    const count = to - from;
    const before = await this.#readPiece({ at: 0, sessionFrame: loop.fromFrame - SEAM_FRAMES + into, frames: count });
    for (let source = 0; source < this.#options.sourceCount; source++) {
      const at = source * chunkFrames + piece.at + from - piece.sessionFrame;
      for (let n = 0; n < count; n++) {
        const part = (into + n + 1) / (SEAM_FRAMES + 1);
        const own = samples[at + n]!;
        samples[at + n] = own + part * (before[source * count + n]! - own);
      }
    }
  }

  /** Reads, with silence before the session's beginning, in as many requests as it takes. */
  async #read(fromFrame: number, frames: number): Promise<Float32Array> {
    const { sourceCount, read } = this.#options;
    if (fromFrame >= 0 && frames <= MOST_READ_FRAMES && sourceCount > 0) {
      return checked(await read(fromFrame, frames, this.#cancel.signal), sourceCount * frames);
    }
    const whole = new Float32Array(sourceCount * frames);
    if (sourceCount === 0) return whole;
    for (let at = Math.max(0, -fromFrame); at < frames; ) {
      const count = Math.min(MOST_READ_FRAMES, frames - at);
      const part = checked(await read(fromFrame + at, count, this.#cancel.signal), sourceCount * count);
      for (let source = 0; source < sourceCount; source++) {
        whole.set(part.subarray(source * count, (source + 1) * count), source * frames + at);
      }
      at += count;
    }
    return whole;
  }

  async #persist<Value>(work: () => Promise<Value>): Promise<Value | undefined> {
    for (let tries = 1; !this.#cancel.signal.aborted; tries++) {
      try {
        const value = await work();
        return this.#cancel.signal.aborted ? undefined : value;
      } catch (error) {
        if (this.#cancel.signal.aborted) return undefined;
        if (tries === TELL_AFTER_TRIES) this.#options.onTrouble(error);
        const wait = Math.min(MOST_RETRY_MS, FIRST_RETRY_MS * 2 ** (tries - 1));
        await new Promise((resolve) => setTimeout(resolve, wait));
      }
    }
    return undefined;
  }
}

function checked(samples: Float32Array<ArrayBuffer>, length: number): Float32Array<ArrayBuffer> {
  if (samples.length !== length) throw new RangeError(`${samples.length} samples came; ${length} were asked for`);
  return samples;
}
