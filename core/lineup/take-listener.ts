import { type Block, blockLength, type Meter } from '../signal/block.ts';
import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { makeWindow } from '../signal/window.ts';
import { type ByteStore, MemoryStore } from './byte-store.ts';
import { LevelGatherer, readLevels } from './level-gatherer.ts';
import { RiseGatherer } from './rise-gatherer.ts';
import { CHUNK, SlowCopy } from './slow-copy.ts';
import { FRAME_SEC, type Rises, type Trace } from './trace.ts';

const SLOW_HZ = 4000;
const WINDOW = 512;
const FIRST_LINE = 8;

/** Where a listener puts what grows with the recording: files, or memory. */
export interface ListenerStores {
  /** Of no use when the listener has given its rises. 6.7 kB a second. */
  readonly steps: ByteStore;
  /** The levels of the trace, as `readLevels` reads them. 4 kB a second. */
  readonly levels: ByteStore;
}

/**
 * Listens once to a mono recording and gives its trace.
 *
 * Note beginnings are rises of the log spectrum (Bello et al. 2005, A tutorial on onset detection in music signals,
 * IEEE Trans. Speech Audio Proc. 13(5), section III): 128 ms Hann windows every 24 ms on a copy of about 4 kHz, so that
 * neighbouring notes fall on different lines. Lines are kept in half-decibel steps until the end, when the floor of
 * each is known; measured: some 1600 times real time on one busy core.
 * Memory: with stores in files some 0.5 kB a second, for the rises.
 */
export class TakeListener implements Meter<Trace> {
  readonly #rateHz: number;
  readonly #slow: SlowCopy;
  readonly #fft = new RealFft(WINDOW);
  readonly #window = makeWindow('hann', WINDOW);
  readonly #slowLine = new Float64Array(WINDOW + 2 * CHUNK);
  readonly #work = new Float64Array(WINDOW);
  readonly #stores: ListenerStores;
  readonly #gatherer: RiseGatherer;
  readonly #levels: LevelGatherer;
  /** The line holds the slow samples from this number on; the first half window is silence before time zero. */
  #slowFrom = -WINDOW / 2;
  #slowFilled = WINDOW / 2;
  #frameFrom = -WINDOW / 2;

  /**
   * rateHz: rate of the recording, 4000 to 400000. stores: in memory when absent. engine: 'kernel' where it is to be had; 'plain' hears
   * the same to the last bit.
   */
  constructor(
    rateHz: number,
    stores: ListenerStores = { steps: new MemoryStore(), levels: new MemoryStore() },
    engine: 'kernel' | 'plain' = 'kernel',
  ) {
    this.#rateHz = rateHz;
    this.#slow = new SlowCopy(rateHz, SLOW_HZ, engine);
    this.#stores = stores;
    this.#gatherer = new RiseGatherer(stores.steps, this.#fft.bins, FIRST_LINE, engine);
    this.#levels = new LevelGatherer(rateHz, stores.levels, engine);
  }

  /** Takes the first channel of a block. */
  add(block: Block): void {
    const input = block[0];
    if (!input || blockLength(block) === 0) return;
    this.#levels.add(input);
    for (let from = 0; from < input.length; from += CHUNK) {
      this.#addSlow(input.subarray(from, Math.min(input.length, from + CHUNK)));
    }
  }

  /** Ticks of the levels so far. */
  get ticks(): number {
    return this.#levels.ticks;
  }

  /** The rises of what was heard so far (its last 130 ms or so hold none yet); the levels are then whole in their store. */
  rises(): Rises {
    this.#levels.drain();
    return { lengthSec: this.#levels.count / this.#rateHz, ...this.#gatherer.rises() };
  }

  /** The whole trace of what was heard so far, in memory. */
  result(): Trace {
    const rises = this.rises();
    const energy = new Float32Array(this.ticks);
    const edge = new Float32Array(this.ticks);
    readLevels(this.#stores.levels, energy, edge);
    return { ...rises, energy, edge };
  }

  #addSlow(input: Float32Array): void {
    const line = this.#slowLine;
    this.#slowFilled += this.#slow.add(input, line.subarray(this.#slowFilled));
    while (this.#frameFrom + WINDOW <= this.#slowFrom + this.#slowFilled) this.#frame();
    const drop = Math.min(this.#frameFrom - this.#slowFrom, this.#slowFilled);
    line.copyWithin(0, drop, this.#slowFilled);
    this.#slowFrom += drop;
    this.#slowFilled -= drop;
  }

  #frame(): void {
    const start = this.#frameFrom - this.#slowFrom;
    const line = this.#slowLine;
    const work = this.#work;
    const window = this.#window;
    for (let n = 0; n < WINDOW; n++) work[n] = line[start + n]! * window[n]!;
    this.#fft.forward(work, this.#gatherer.re, this.#gatherer.im);
    this.#gatherer.add();
    this.#frameFrom = Math.round(this.#gatherer.frames * FRAME_SEC * this.#slow.rateHz) - WINDOW / 2;
  }
}

/** Reads a sound once, from its beginning to its end, and gives its trace, in memory. */
export function listenTo(sound: Sound, cancel?: Cancel): Trace {
  const listener = new TakeListener(sound.rateHz);
  const block = new Float32Array(16384);
  for (let at = 0; at < sound.lengthFrames; at += block.length) {
    throwIfCancelled(cancel);
    const part = block.subarray(0, Math.min(block.length, sound.lengthFrames - at));
    sound.read(at, part);
    listener.add([part]);
  }
  return listener.result();
}
