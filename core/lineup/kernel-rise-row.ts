import { setSplits, setTwiddles } from '../signal/simd-fft.ts';
import { makeWindow } from '../signal/window.ts';
import type { ListenKernel } from './kernel/listen-kernel.ts';
import { FLOOR_SHARES, HELD_FRAMES, MOST_FRAMES, type RiseRow, riseShape } from './rise-shape.ts';

/** What rises, in the kernel, one call a stretch: the same as ./plain-rise-row.ts, to the last bit. */
export class KernelRiseRow implements RiseRow {
  readonly gap: number;
  readonly #kernel: ListenKernel;
  readonly #hop: number;
  readonly #heard: Float64Array;
  /** Of the first frame. */
  readonly #magnitudes: Float64Array;
  readonly #quotients: Float64Array;
  readonly #groups: number;
  readonly #rises = FLOOR_SHARES.map(() => new Float64Array(MOST_FRAMES));
  #frames = 0;
  #isRaised = false;

  constructor(kernel: ListenKernel, size: number, rateHz: number) {
    const { firstBin, bins, hop, gap } = riseShape(size, rateHz);
    this.#kernel = kernel;
    this.#hop = hop;
    this.gap = gap;
    const mostHeard = Math.ceil(MOST_FRAMES * hop) + 2 * size;
    if (kernel.planFrames(size, firstBin, bins, MOST_FRAMES, mostHeard) === 0)
      throw new RangeError(`size is ${size}; allowed what the memory holds`);
    const { buffer } = kernel.memory;
    this.#heard = new Float64Array(buffer, kernel.heardAt(), mostHeard);
    this.#magnitudes = new Float64Array(buffer, kernel.magnitudesAt(), bins);
    this.#groups = kernel.quotientGroups();
    this.#quotients = new Float64Array(buffer, kernel.quotientsAt(), FLOOR_SHARES.length * this.#groups * MOST_FRAMES);
    new Float64Array(buffer, kernel.frameWindowAt(), size).set(makeWindow('hann', size));
    setTwiddles(new Float64Array(buffer, kernel.twiddlesAt()), size / 2);
    setSplits(new Float64Array(buffer, kernel.splitsAt()), size);
  }

  hear(heard: Float64Array, side: number, frames: number, usual: number): void {
    this.#heard.set(heard);
    this.#frames = frames;
    this.#kernel.hearFrames(side, this.#hop, frames, 1 / usual);
    this.#isRaised = false;
  }

  loudest(): number {
    return this.#magnitudes.reduce((most, one) => Math.max(most, one), 0);
  }

  rises(floor: number): Float64Array {
    if (!this.#isRaised) this.#kernel.riseFrames(this.#frames, this.gap, HELD_FRAMES, ...FLOOR_SHARES);
    this.#isRaised = true;
    const row = this.#rises[floor]!.fill(0, 0, this.gap);
    const groups = this.#groups;
    for (let frame = this.gap; frame < this.#frames; frame++) {
      const from = (FLOOR_SHARES.length * frame + floor) * groups;
      let sum = 0;
      for (let n = from; n < from + groups; n++) sum += Math.log(this.#quotients[n]!);
      row[frame] = sum;
    }
    return row;
  }
}
