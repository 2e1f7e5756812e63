import { roomIn } from '../signal/kernel-room.ts';
import { setSplits, setTwiddles } from '../signal/simd-fft.ts';
import { makeWindow } from '../signal/window.ts';
import { FIRST_LINE, type Hearing, type ListenerStores, SLOW_HZ, WINDOW } from './hearing.ts';
import type { ListenKernel } from './kernel/listen-kernel.ts';
import { LEVEL_BYTES, LONGEST, PIECE_TICKS } from './level-gatherer.ts';
import { logLevels, PIECE_FRAMES, RiseList, SCALE, ZERO } from './rise-gatherer.ts';
import { slowFactor, slowTaps } from './slow-copy.ts';
import { FRAME_SEC, LEAST_RISE, LINES, type Rises, TICK_SEC } from './trace.ts';

/** Listening in the kernel, one call a block: the same as ./plain-hearing.ts, to the last bit. */
export class KernelHearing implements Hearing {
  readonly #kernel: ListenKernel;
  readonly #stores: ListenerStores;
  readonly #input: Float32Array;
  /** Where rises are looked for. The frame before the piece lies in front of it. */
  readonly #room: {
    readonly steps: number;
    readonly levels: number;
    readonly lines: number;
    readonly sizes: number;
    readonly ends: number;
  };
  #ticks = 0;
  #frames = 0;

  constructor(kernel: ListenKernel, rateHz: number, stores: ListenerStores) {
    this.#kernel = kernel;
    this.#stores = stores;
    const factor = slowFactor(rateHz, SLOW_HZ);
    const taps = slowTaps(factor);
    kernel.begin(rateHz, TICK_SEC, factor, taps.length - 1, FRAME_SEC, FIRST_LINE, LINES, SCALE, ZERO);
    this.#room = {
      steps: roomIn(kernel, (PIECE_FRAMES + 1) * LINES),
      levels: roomIn(kernel, 4 * LINES * 256),
      lines: roomIn(kernel, PIECE_FRAMES * LINES),
      sizes: roomIn(kernel, 4 * PIECE_FRAMES * LINES),
      ends: roomIn(kernel, 4 * PIECE_FRAMES),
    };
    const { buffer } = kernel.memory;
    this.#input = new Float32Array(buffer, kernel.inputAt(), LONGEST);
    new Float64Array(buffer, kernel.tapsAt(), taps.length).set(taps);
    new Float64Array(buffer, kernel.windowAt(), WINDOW).set(makeWindow('hann', WINDOW));
    setTwiddles(new Float64Array(buffer, kernel.twiddlesAt()), WINDOW / 2);
    setSplits(new Float64Array(buffer, kernel.splitsAt()), WINDOW);
  }

  get ticks(): number {
    return this.#ticks + this.#kernel.ticksWaiting();
  }

  add(samples: Float32Array): void {
    for (let from = 0; from < samples.length; from += LONGEST) {
      const piece = samples.length <= LONGEST ? samples : samples.subarray(from, from + LONGEST);
      this.#input.set(piece);
      this.#kernel.listen(piece.length);
      if (this.#kernel.ticksWaiting() >= PIECE_TICKS) this.#drainTicks();
      if (this.#kernel.framesWaiting() >= PIECE_FRAMES) this.#drainFrames();
    }
  }

  #drainTicks(): void {
    const { buffer } = this.#kernel.memory;
    const ticks = this.#kernel.ticksWaiting();
    if (ticks > 0) this.#stores.levels.append(new Uint8Array(buffer, this.#kernel.levelsAt(), ticks * LEVEL_BYTES));
    this.#kernel.takeTicks();
    this.#ticks += ticks;
  }

  #drainFrames(): void {
    const { buffer } = this.#kernel.memory;
    const frames = this.#kernel.framesWaiting();
    if (frames > 0) this.#stores.steps.append(new Uint8Array(buffer, this.#kernel.stepsAt(), frames * LINES));
    this.#kernel.takeFrames();
    this.#frames += frames;
  }

  rises(): Omit<Rises, 'lengthSec'> {
    this.#drainTicks();
    this.#drainFrames();
    const frames = this.#frames;
    const kernel = this.#kernel;
    const room = this.#room;
    const { buffer } = kernel.memory;
    const counts = new Uint32Array(buffer, kernel.countsAt(), LINES * 256);
    const peaks = new Uint32Array(buffer, kernel.peaksAt(), 256);
    new Float32Array(buffer, room.levels, LINES * 256).set(logLevels(counts, peaks, frames));
    const steps = new Uint8Array(buffer, room.steps, (PIECE_FRAMES + 1) * LINES);
    const ends = new Uint32Array(buffer, room.ends, PIECE_FRAMES);
    const riseFrom = new Uint32Array(frames + 1);
    const found = new RiseList();
    // Nothing rises in the first frame.
    steps.fill(255, 0, LINES);
    for (let first = 0; first < frames; first += PIECE_FRAMES) {
      const count = Math.min(PIECE_FRAMES, frames - first);
      this.#stores.steps.read(first * LINES, steps.subarray(LINES, (count + 1) * LINES));
      const before = found.length;
      const rises = kernel.findRises(
        steps.byteOffset + LINES,
        count,
        LINES,
        room.levels,
        LEAST_RISE,
        room.lines,
        room.sizes,
        room.ends,
      );
      found.addAll(new Uint8Array(buffer, room.lines, rises), new Float32Array(buffer, room.sizes, rises));
      for (let n = 0; n < count; n++) riseFrom[first + n + 1] = before + ends[n]!;
      steps.copyWithin(0, count * LINES, (count + 1) * LINES);
    }
    return { frames, riseFrom, riseLine: found.lines(), riseBy: found.sizes() };
  }
}
