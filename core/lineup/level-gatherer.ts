import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import { roomIn } from '../signal/kernel-room.ts';
import type { Sound } from '../signal/sound.ts';
import { type ByteStore, MemoryStore } from './byte-store.ts';
import { type ListenKernel, loadListenKernel } from './kernel/listen-kernel.ts';
import { type Levels, TICK_SEC } from './trace.ts';

/** Ticks that are stored together. */
export const PIECE_TICKS = 2048;
/** What a tick takes in the store: energy, then edge, single precision in the machine's order. */
export const LEVEL_BYTES = 8;

/** Samples that the kernel is handed at once, as laid out in kernel/assembly/listen.ts. */
export const LONGEST = 16384;

/** Mean squares of a sound and of its first difference, a pair a tick, into the store: 4 kB a second. */
export class LevelGatherer {
  readonly #rateHz: number;
  readonly #store: ByteStore;
  readonly #piece = new Float32Array(2 * PIECE_TICKS);
  #pending = 0;
  #ticks = 0;
  #count = 0;
  #tickFrom = 0;
  #tickTo: number;
  readonly #sums: TickSums;

  /** engine: 'kernel' where it is to be had; 'plain' gives the same to the last bit. */
  constructor(rateHz: number, store: ByteStore, engine: 'kernel' | 'plain' = 'kernel') {
    this.#rateHz = rateHz;
    this.#store = store;
    this.#tickTo = Math.max(1, Math.round(TICK_SEC * rateHz));
    const kernel = engine === 'kernel' ? loadListenKernel() : undefined;
    this.#sums = kernel === undefined ? new PlainSums() : new KernelSums(kernel);
  }

  /** Frames so far. */
  get count(): number {
    return this.#count;
  }

  /** Ticks so far. */
  get ticks(): number {
    return this.#ticks;
  }

  add(input: Float32Array): void {
    for (let from = 0; from < input.length; from += LONGEST) {
      const whole = input.length <= LONGEST;
      this.#add(whole ? input : input.subarray(from, from + LONGEST));
    }
  }

  #add(input: Float32Array): void {
    this.#sums.take(input);
    let from = 0;
    while (from < input.length) {
      const to = Math.min(input.length, from + this.#tickTo - this.#count);
      this.#sums.add(from, to);
      this.#count += to - from;
      from = to;
      if (this.#count === this.#tickTo) this.#tick();
    }
  }

  #tick(): void {
    const size = this.#tickTo - this.#tickFrom;
    const { sums } = this.#sums;
    this.#piece[2 * this.#pending] = sums[0]! / size;
    this.#piece[2 * this.#pending + 1] = sums[1]! / size;
    this.#ticks++;
    this.#pending++;
    if (this.#pending === PIECE_TICKS) this.drain();
    sums[0] = 0;
    sums[1] = 0;
    this.#tickFrom = this.#tickTo;
    this.#tickTo = Math.max(this.#tickFrom + 1, Math.round((this.#ticks + 1) * TICK_SEC * this.#rateHz));
  }

  /** Puts into the store what waits to be. */
  drain(): void {
    if (this.#pending === 0) return;
    this.#store.append(new Uint8Array(this.#piece.buffer, 0, this.#pending * LEVEL_BYTES));
    this.#pending = 0;
  }
}

/** Sums of squares of samples and of their steps. */
interface TickSums {
  /** Of the samples, of their steps; to be set to 0 at will. Then the last sample. */
  readonly sums: Float64Array;
  take(input: Float32Array): void;
  /** Adds what was taken last from one sample to before another. */
  add(from: number, to: number): void;
}

class PlainSums implements TickSums {
  readonly sums = new Float64Array(3);
  #input: Float32Array = new Float32Array(0);

  take(input: Float32Array): void {
    this.#input = input;
  }

  add(from: number, to: number): void {
    const input = this.#input;
    let energy = this.sums[0]!;
    let edge = this.sums[1]!;
    let before = this.sums[2]!;
    let otherEnergy = 0;
    let otherEdge = 0;
    let n = from;
    // Two of each side by side: a sum waits for itself.
    for (; n + 1 < to; n += 2) {
      const one = input[n]!;
      const two = input[n + 1]!;
      const toOne = one - before;
      const toTwo = two - one;
      energy += one * one;
      otherEnergy += two * two;
      edge += toOne * toOne;
      otherEdge += toTwo * toTwo;
      before = two;
    }
    if (n < to) {
      const last = input[n]!;
      energy += last * last;
      edge += (last - before) * (last - before);
      before = last;
    }
    this.sums[0] = energy + otherEnergy;
    this.sums[1] = edge + otherEdge;
    this.sums[2] = before;
  }
}

class KernelSums implements TickSums {
  readonly sums: Float64Array;
  readonly #kernel: ListenKernel;
  readonly #samples: Float32Array;

  constructor(kernel: ListenKernel) {
    this.#kernel = kernel;
    const samplesAt = roomIn(kernel, 4 * LONGEST);
    const sumsAt = roomIn(kernel, 24);
    this.#samples = new Float32Array(kernel.memory.buffer, samplesAt, LONGEST);
    this.sums = new Float64Array(kernel.memory.buffer, sumsAt, 3);
  }

  take(input: Float32Array): void {
    this.#samples.set(input);
  }

  add(from: number, to: number): void {
    this.#kernel.addLevels(this.#samples.byteOffset + 4 * from, to - from, this.sums.byteOffset);
  }
}

/** Ticks that are read together. */
const READ_TICKS = 16384;

/** Parts ticks as they lie in a store into energies and edges. */
interface TickReader {
  /** Where the bytes of up to READ_TICKS ticks go. */
  readonly bytes: Uint8Array;
  /** Puts the first `count` ticks of `bytes` into both arrays, from `at` on. */
  part(count: number, energy: Float32Array, edge: Float32Array, at: number): void;
}

class PlainReader implements TickReader {
  readonly #pairs = new Float32Array(2 * READ_TICKS);
  readonly bytes = new Uint8Array(this.#pairs.buffer);

  part(count: number, energy: Float32Array, edge: Float32Array, at: number): void {
    const pairs = this.#pairs;
    for (let n = 0; n < count; n++) {
      energy[at + n] = pairs[2 * n]!;
      edge[at + n] = pairs[2 * n + 1]!;
    }
  }
}

class KernelReader implements TickReader {
  readonly bytes: Uint8Array;
  readonly #kernel: ListenKernel;
  readonly #energy: Float32Array;
  readonly #edge: Float32Array;

  constructor(kernel: ListenKernel) {
    this.#kernel = kernel;
    const bytesAt = roomIn(kernel, LEVEL_BYTES * READ_TICKS);
    const energyAt = roomIn(kernel, 4 * READ_TICKS);
    const edgeAt = roomIn(kernel, 4 * READ_TICKS);
    const { buffer } = kernel.memory;
    this.bytes = new Uint8Array(buffer, bytesAt, LEVEL_BYTES * READ_TICKS);
    this.#energy = new Float32Array(buffer, energyAt, READ_TICKS);
    this.#edge = new Float32Array(buffer, edgeAt, READ_TICKS);
  }

  part(count: number, energy: Float32Array, edge: Float32Array, at: number): void {
    this.#kernel.partPairs(this.bytes.byteOffset, count, this.#energy.byteOffset, this.#edge.byteOffset);
    energy.set(this.#energy.subarray(0, count), at);
    edge.set(this.#edge.subarray(0, count), at);
  }
}

/** One serves all readers of a thread: nothing of a reading stays in it. */
let reader: TickReader | undefined;

function makeReader(): TickReader {
  const kernel = loadListenKernel();
  return kernel === undefined ? new PlainReader() : new KernelReader(kernel);
}

/** Reads the first energy.length ticks of a store, however many there are, piece by piece. engine: 'plain' for plain TypeScript. */
export function readLevels(
  store: Pick<ByteStore, 'read'>,
  energy: Float32Array,
  edge: Float32Array,
  engine: 'kernel' | 'plain' = 'kernel',
): void {
  reader ??= makeReader();
  const used = engine === 'kernel' ? reader : new PlainReader();
  for (let from = 0; from < energy.length; from += READ_TICKS) {
    const count = Math.min(READ_TICKS, energy.length - from);
    store.read(from * LEVEL_BYTES, used.bytes.subarray(0, count * LEVEL_BYTES));
    used.part(count, energy, edge, from);
  }
}

/** Reads a sound once and gives its levels, in memory: 4 kB a second. */
export function levelsOf(sound: Sound, cancel?: Cancel): Levels {
  const store = new MemoryStore();
  const gatherer = new LevelGatherer(sound.rateHz, store);
  const block = new Float32Array(16384);
  for (let at = 0; at < sound.lengthFrames; at += block.length) {
    throwIfCancelled(cancel);
    const part = block.subarray(0, Math.min(block.length, sound.lengthFrames - at));
    sound.read(at, part);
    gatherer.add(part);
  }
  gatherer.drain();
  const energy = new Float32Array(gatherer.ticks);
  const edge = new Float32Array(gatherer.ticks);
  readLevels(store, energy, edge);
  return { lengthSec: gatherer.count / sound.rateHz, energy, edge };
}
