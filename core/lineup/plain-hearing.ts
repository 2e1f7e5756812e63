import { RealFft } from '../signal/fft.ts';
import { makeWindow } from '../signal/window.ts';
import { FIRST_LINE, type Hearing, type ListenerStores, SLOW_HZ, WINDOW } from './hearing.ts';
import { LevelGatherer } from './level-gatherer.ts';
import { RiseGatherer } from './rise-gatherer.ts';
import { CHUNK, SlowCopy } from './slow-copy.ts';
import { FRAME_SEC, type Rises } from './trace.ts';

/** Listening in plain TypeScript: the twin of ./kernel-hearing.ts, its oracle and its fallback. */
export class PlainHearing implements Hearing {
  readonly #slow: SlowCopy;
  readonly #fft = new RealFft(WINDOW);
  readonly #window = makeWindow('hann', WINDOW);
  readonly #slowLine = new Float64Array(WINDOW + 2 * CHUNK);
  readonly #work = new Float64Array(WINDOW);
  readonly #gatherer: RiseGatherer;
  readonly #levels: LevelGatherer;
  /** The line holds the slow samples from this number on; the first half window is silence before time zero. */
  #slowFrom = -WINDOW / 2;
  #slowFilled = WINDOW / 2;
  #frameFrom = -WINDOW / 2;

  constructor(rateHz: number, stores: ListenerStores) {
    this.#slow = new SlowCopy(rateHz, SLOW_HZ, 'plain');
    this.#gatherer = new RiseGatherer(stores.steps, this.#fft.bins, FIRST_LINE);
    this.#levels = new LevelGatherer(rateHz, stores.levels, 'plain');
  }

  get ticks(): number {
    return this.#levels.ticks;
  }

  add(samples: Float32Array): void {
    this.#levels.add(samples);
    for (let from = 0; from < samples.length; from += CHUNK) {
      this.#addSlow(samples.subarray(from, Math.min(samples.length, from + CHUNK)));
    }
  }

  rises(): Omit<Rises, 'lengthSec'> {
    this.#levels.drain();
    return this.#gatherer.rises();
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
