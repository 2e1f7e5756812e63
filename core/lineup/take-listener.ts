import { type Block, blockLength, type Meter } from '../signal/block.ts';
import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';
import { MemoryStore } from './byte-store.ts';
import type { Hearing, ListenerStores } from './hearing.ts';
import { loadListenKernel } from './kernel/listen-kernel.ts';
import { KernelHearing } from './kernel-hearing.ts';
import { readLevels } from './level-gatherer.ts';
import { PlainHearing } from './plain-hearing.ts';
import type { Rises, Trace } from './trace.ts';

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
  readonly #stores: ListenerStores;
  readonly #hearing: Hearing;
  #count = 0;

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
    this.#stores = stores;
    const kernel = engine === 'kernel' ? loadListenKernel() : undefined;
    this.#hearing = kernel === undefined ? new PlainHearing(rateHz, stores) : new KernelHearing(kernel, rateHz, stores);
  }

  /** Takes the first channel of a block. */
  add(block: Block): void {
    const input = block[0];
    if (!input || blockLength(block) === 0) return;
    this.#hearing.add(input);
    this.#count += input.length;
  }

  /** Ticks of the levels so far. */
  get ticks(): number {
    return this.#hearing.ticks;
  }

  /** The rises of what was heard so far (its last 130 ms or so hold none yet); the levels are then whole in their store. */
  rises(): Rises {
    return { lengthSec: this.#count / this.#rateHz, ...this.#hearing.rises() };
  }

  /** The whole trace of what was heard so far, in memory. */
  result(): Trace {
    const rises = this.rises();
    const energy = new Float32Array(this.ticks);
    const edge = new Float32Array(this.ticks);
    readLevels(this.#stores.levels, energy, edge);
    return { ...rises, energy, edge };
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
