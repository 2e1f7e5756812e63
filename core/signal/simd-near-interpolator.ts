import { CHUNK_FRAMES, type FrameReader, type Interpolator } from './interpolator.ts';
import type { ResampleKernel } from './kernel/resample-kernel.ts';
import { roomIn } from './kernel-room.ts';
import { FINE_LEAD, FINE_PHASES, fineTable, halfBandFor } from './near-interpolator.ts';

/** Frames that the kernel doubles at once. */
const GROUP = 16;

/**
 * NearInterpolator in single precision by the WebAssembly kernel: measured 3 times as fast (11 against 35 ns a frame), and equal
 * to it to 120 dB.
 * The input is read straight into the kernel's memory.
 */
export class SimdNearInterpolator implements Interpolator {
  readonly reachFrames: number;
  readonly #step: number;
  readonly #kernel: ResampleKernel;
  readonly #halfLength: number;
  readonly #half: number;
  readonly #table: number;
  readonly #staged: number;
  readonly #doubled: number;
  readonly #result: number;
  readonly #stagedWhole: Float32Array;
  readonly #resultWhole: Float32Array;
  #stagedView: Float32Array;

  constructor(step: number, kernel: ResampleKernel) {
    this.#step = step;
    this.#kernel = kernel;
    const half = halfBandFor(step);
    const table = fineTable();
    this.#halfLength = half.length;
    this.reachFrames = half.length + FINE_LEAD + 1;
    // Room for the 3 frames that the second stage makes too many, wherever they fall.
    const frames = Math.ceil((CHUNK_FRAMES + 4) * step) + 2 * FINE_LEAD + 2 * GROUP;
    const stagedFrames = frames + 2 * half.length;
    this.#half = roomIn(kernel, 4 * half.length);
    this.#table = roomIn(kernel, 4 * table.length);
    this.#staged = roomIn(kernel, 4 * stagedFrames);
    this.#doubled = roomIn(kernel, 8 * frames);
    this.#result = roomIn(kernel, 4 * (CHUNK_FRAMES + 4));
    const buffer = kernel.memory.buffer;
    new Float32Array(buffer, this.#half, half.length).set(half);
    new Float32Array(buffer, this.#table, table.length).set(table);
    this.#stagedWhole = new Float32Array(buffer, this.#staged, stagedFrames);
    this.#stagedView = this.#stagedWhole;
    this.#resultWhole = new Float32Array(buffer, this.#result, CHUNK_FRAMES + 4);
  }

  run(
    input: FrameReader,
    startFrame: number,
    fromIndex: number,
    output: Float32Array,
    outputFrom: number,
    count: number,
  ): void {
    const step = this.#step;
    const kernel = this.#kernel;
    const result = this.#resultWhole;
    for (let done = 0; done < count; done += CHUNK_FRAMES) {
      const some = Math.min(CHUNK_FRAMES, count - done);
      const first = fromIndex + done;
      const base = Math.floor(startFrame + first * step) - FINE_LEAD;
      // As many for every place, so that equal requests need no new view.
      const frames = Math.ceil((Math.ceil((some - 1) * step) + 2 * FINE_LEAD + 3) / GROUP) * GROUP;
      this.#read(input, base - this.#halfLength + 1, frames + 2 * this.#halfLength - 1);
      kernel.doubleRate(this.#staged, this.#doubled, frames, this.#half, this.#halfLength);
      // doubled[1] is the first of the 12 values around the frame FINE_LEAD after base.
      kernel.interpolate(
        this.#doubled + 4,
        base + FINE_LEAD,
        this.#table,
        FINE_PHASES,
        startFrame,
        step,
        first,
        this.#result,
        some,
      );
      const to = outputFrom + done;
      for (let n = 0; n < some; n++) output[to + n] = result[n]!;
    }
  }

  #read(input: FrameReader, fromFrame: number, frames: number): void {
    if (this.#stagedView.length !== frames) this.#stagedView = this.#stagedWhole.subarray(0, frames);
    input.read(fromFrame, this.#stagedView);
  }
}
