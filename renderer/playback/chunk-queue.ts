import type { Chunk } from './messages.ts';

/**
 * The sound of a stream that has come and is not used up: chunks in order, without a gap. Reads are sample-exact and go
 * across chunks; past the end of the stream there is silence. Allocates nothing while reading.
 */
export class ChunkQueue {
  readonly #chunks: Chunk[] = [];
  #end: number;
  #isWhole = false;

  /** firstFrame: stream frame of the first chunk. */
  constructor(firstFrame: number) {
    this.#end = firstFrame;
  }

  /** Stream frame after the last that has come. */
  get endFrame(): number {
    return this.#end;
  }

  /** The stream's last chunk has come. */
  get isWhole(): boolean {
    return this.#isWhole;
  }

  /** Takes a chunk; one that does not follow the last is a RangeError. */
  add(chunk: Chunk): void {
    if (chunk.streamFrame !== this.#end) {
      throw new RangeError(`streamFrame is ${chunk.streamFrame}; the queue goes on at ${this.#end}`);
    }
    this.#chunks.push(chunk);
    this.#end += chunk.frames;
    this.#isWhole = chunk.last;
  }

  /** Takes out the next chunk that lies before a frame altogether; undefined when there is none. */
  takeSpent(beforeFrame: number): Chunk | undefined {
    const first = this.#chunks[0];
    return first !== undefined && first.streamFrame + first.frames <= beforeFrame ? this.#chunks.shift() : undefined;
  }

  /** Frames from `streamFrame` on whose session frames run on evenly, `most` at most. */
  evenFrames(streamFrame: number, most: number): number {
    const session = this.sessionFrame(streamFrame);
    for (const chunk of this.#chunks) {
      for (const piece of chunk.pieces) {
        const at = chunk.streamFrame + piece.at;
        if (at <= streamFrame) continue;
        if (at >= streamFrame + most) return most;
        if (piece.sessionFrame !== session + at - streamFrame) return at - streamFrame;
      }
    }
    return most;
  }

  /** The session frame that sounds at a stream frame; runs on evenly past what has come. */
  sessionFrame(streamFrame: number): number {
    let sessionFrame = 0;
    let from = 0;
    for (const chunk of this.#chunks) {
      for (const piece of chunk.pieces) {
        const at = chunk.streamFrame + piece.at;
        if (at > streamFrame && !(chunk === this.#chunks[0] && piece.at === 0))
          return sessionFrame + streamFrame - from;
        sessionFrame = piece.sessionFrame;
        from = at;
      }
    }
    return sessionFrame + streamFrame - from;
  }

  /** First stream frame, `fromFrame` or later, at which a session frame sounds; undefined while it has not come. */
  streamFrameOf(sessionFrame: number, fromFrame: number): number | undefined {
    for (const chunk of this.#chunks) {
      for (const [index, piece] of chunk.pieces.entries()) {
        const length = (chunk.pieces[index + 1]?.at ?? chunk.frames) - piece.at;
        const into = sessionFrame - piece.sessionFrame;
        const frame = chunk.streamFrame + piece.at + into;
        if (into >= 0 && into < length && frame >= fromFrame) return frame;
      }
    }
    return undefined;
  }

  /** Fills target with the samples of a source from `streamFrame` on; silence where there are none. */
  read(source: number, streamFrame: number, target: Float32Array): void {
    let done = 0;
    for (const chunk of this.#chunks) {
      const into = streamFrame + done - chunk.streamFrame;
      if (into < 0 || into >= chunk.frames) continue;
      const count = Math.min(target.length - done, chunk.frames - into);
      const from = source * chunk.frames + into;
      const samples = chunk.samples;
      for (let n = 0; n < count; n++) target[done + n] = samples[from + n]!;
      done += count;
      if (done === target.length) return;
    }
    target.fill(0, done);
  }
}
