import type { Block } from '../../core/signal/block.ts';
import type { AudioFacts } from './audio-facts.ts';
import type { GrowingFile } from './growing-file.ts';
import type { RunningFfmpeg } from './run.ts';
import { type Run, RunSplitter } from './sound-edits.ts';
import type { Stamp, StampReader } from './stamps.ts';
import { STAMP_TOLERANCE_SEC, TimeLine } from './time-line.ts';

/** Ogg stamps pages of some 0.1 s, and FFmpeg guesses at the Vorbis blocks between, whose length varies; s. */
const PAGE_TOLERANCE_SEC = 0.1;
/** More samples than these do not wait for a stamp, bytes: it was lost. */
const MOST_WAITING_BYTES = 2 ** 25;
/** Frames that are read from a file at once. */
const READ_FRAMES = 65536;

/** The time line on which sound is laid; there from the first samples on. */
export interface LineState {
  line?: TimeLine;
  /** Some of what came was left out. */
  hasLeftOut?: boolean;
}

/**
 * Joins what comes by two ways: the samples by FFmpeg's output, and the stamp of each run of them by its messages, which
 * may arrive later; samples wait until their run is known. Memory: the samples of some 64 of FFmpeg's own runs.
 */
export async function* layOut(
  run: RunningFfmpeg,
  stamps: StampReader,
  facts: AudioFacts,
  state: LineState,
): AsyncGenerator<Block> {
  const { channels } = facts;
  const frameBytes = 4 * channels;
  const runs = new RunLayer(stamps, facts, state);
  let bytes = new Uint8Array(1 << 18);
  let have = 0;
  let used = 0;
  for await (const chunk of run.stdout as AsyncIterable<Buffer>) {
    if (have + chunk.length > bytes.length) {
      // What was used goes first; what is left must fit twice, so that it is not moved for every chunk.
      const needed = 2 * (have - used + chunk.length);
      const room = needed > bytes.length ? new Uint8Array(2 * needed) : bytes;
      room.set(bytes.subarray(used, have));
      have -= used;
      used = 0;
      bytes = room;
    }
    bytes.set(chunk, have);
    have += chunk.length;
    const frames = Math.floor((have - used) / frameBytes);
    const isLost = have - used > MOST_WAITING_BYTES;
    used += frameBytes * (yield* runs.lay(new Float32Array(bytes.buffer, used, frames * channels), frames, isLost));
  }
  // Its last messages are there when it has ended.
  await run.end;
  const frames = Math.floor((have - used) / frameBytes);
  yield* runs.lay(new Float32Array(bytes.buffer, used, frames * channels), frames, true);
}

/** The same of samples that FFmpeg writes to a file, in which they wait. Memory: two blocks. */
export async function* layOutFile(
  file: GrowingFile,
  stamps: StampReader,
  facts: AudioFacts,
  state: LineState,
): AsyncGenerator<Block> {
  const frameBytes = 4 * facts.channels;
  const runs = new RunLayer(stamps, facts, state);
  const samples = new Float32Array(READ_FRAMES * facts.channels);
  for (;;) {
    const isAll = file.isWhole;
    const frames = Math.min(READ_FRAMES, isAll ? READ_FRAMES : runs.knownFrames);
    const got = file.read(new Uint8Array(samples.buffer, 0, frames * frameBytes), frameBytes) / frameBytes;
    if (got > 0) yield* runs.lay(samples.subarray(0, got * facts.channels), got, isAll);
    else if (isAll) return;
    else await file.told();
  }
}

/** Lays samples on a time line, run by run. */
class RunLayer {
  readonly #stamps: StampReader;
  readonly #facts: AudioFacts;
  readonly #state: LineState;
  readonly #splitter: RunSplitter;
  readonly #runs: Run[] = [];

  constructor(stamps: StampReader, facts: AudioFacts, state: LineState) {
    this.#stamps = stamps;
    this.#facts = facts;
    this.#state = state;
    this.#splitter = new RunSplitter(facts.edits);
  }

  /** How many of the frames to come belong to runs that are known. */
  get knownFrames(): number {
    return this.#runs.reduce((sum, { left }) => sum + left, 0) + this.#stamps.waitingFrames;
  }

  /** Lays those of the frames whose run is known, or all: no more stamps come then. Returns how many. */
  *lay(samples: Float32Array, frames: number, all: boolean): Generator<Block, number> {
    const { channels } = this.#facts;
    let used = 0;
    while (used < frames) {
      if (this.#runs.length === 0) {
        const stamp = this.#stamps.next() ?? (all ? this.#stamps.last(frames - used) : undefined);
        if (stamp === undefined) break;
        this.#begin(stamp);
      }
      const line = this.#state.line!;
      const run = this.#runs[0]!;
      if (run.isShown && run.left === run.frames) line.begin(run.frame, run.frames);
      const count = Math.min(run.left, frames - used);
      if (!run.isShown) this.#state.hasLeftOut = true;
      else yield* line.push(samples.subarray(used * channels, (used + count) * channels), count);
      used += count;
      run.left -= count;
      if (run.left === 0) this.#runs.shift();
    }
    return used;
  }

  #begin(stamp: Stamp): void {
    this.#state.line ??= lineFor(this.#facts, this.#stamps);
    this.#runs.push(...this.#splitter.split(stamp.frame, stamp.frames));
  }
}

function lineFor(facts: AudioFacts, { format }: StampReader): TimeLine {
  const { rateHz, channels, primingFrames, zeroFrame, endSec, codec } = facts;
  if (format !== undefined && (format.channels !== channels || format.rateHz !== rateHz)) {
    throw new RangeError(
      `FFmpeg gives ${format.channels} channels at ${format.rateHz} Hz, not ${channels} at ${rateHz} Hz`,
    );
  }
  return new TimeLine({
    rateHz,
    channels,
    zeroFrame,
    primingFrames,
    endFrame: endSec === undefined ? undefined : Math.round(endSec * rateHz),
    toleranceSec: codec === 'vorbis' ? PAGE_TOLERANCE_SEC : STAMP_TOLERANCE_SEC,
  });
}
