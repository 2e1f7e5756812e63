import { RealFft } from '../signal/fft.ts';
import { makeWindow } from '../signal/window.ts';
import { FLOOR_SHARES, HELD_FRAMES, MOST_FRAMES, type RiseRow, type RiseShape, riseShape } from './rise-shape.ts';

/** Bins that are multiplied before their logarithm is taken, in two rows side by side as the kernel does it. */
const GROUP = 32;

/** What rises, in plain TypeScript: the twin of ./kernel-rise-row.ts, its oracle and its fallback. */
export class PlainRiseRow implements RiseRow {
  readonly #shape: RiseShape;
  readonly #size: number;
  readonly #fft: RealFft;
  readonly #window: Float64Array;
  readonly #work: Float64Array;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  /** Magnitudes, a row a frame, a bin of nothing before each and two after it. */
  readonly #levels: Float64Array;
  readonly #width: number;
  readonly #rises = FLOOR_SHARES.map(() => new Float64Array(MOST_FRAMES));
  #frames = 0;

  constructor(size: number, rateHz: number) {
    this.#size = size;
    this.#fft = new RealFft(size);
    this.#window = makeWindow('hann', size);
    this.#work = new Float64Array(size);
    this.#re = new Float64Array(this.#fft.bins);
    this.#im = new Float64Array(this.#fft.bins);
    this.#shape = riseShape(size, rateHz);
    this.#width = this.#shape.bins + 3;
    this.#levels = new Float64Array(MOST_FRAMES * this.#width);
  }

  get gap(): number {
    return this.#shape.gap;
  }

  hear(heard: Float64Array, side: number, frames: number, usual: number): void {
    this.#frames = frames;
    const { firstBin, bins, hop } = this.#shape;
    const scale = 1 / usual;
    for (let n = 0; n < frames; n++) {
      const from = side + Math.floor(n * hop + 0.5) - this.#size / 2;
      for (let i = 0; i < this.#size; i++) this.#work[i] = heard[from + i]! * this.#window[i]!;
      this.#fft.forward(this.#work, this.#re, this.#im);
      const to = n * this.#width + 1;
      for (let b = 0; b < bins; b++) {
        const [x, y] = [this.#re[firstBin + b]!, this.#im[firstBin + b]!];
        this.#levels[to + b] = Math.sqrt(x * x + y * y) * scale;
      }
    }
  }

  loudest(): number {
    return this.#levels.subarray(1, this.#shape.bins + 1).reduce((most, one) => Math.max(most, one), 0);
  }

  rises(floor: number): Float64Array {
    const row = this.#rises[floor]!.fill(0, 0, this.gap);
    for (let frame = this.gap; frame < this.#frames; frame++) row[frame] = this.#riseIn(frame, FLOOR_SHARES[floor]!);
    return row;
  }

  #riseIn(frame: number, floor: number): number {
    const levels = this.#levels;
    const { bins } = this.#shape;
    const before = (frame - this.gap) * this.#width + 1;
    const here = frame * this.#width + 1;
    const later = Math.min(this.#frames - 1, frame + HELD_FRAMES) * this.#width + 1;
    let sum = 0;
    for (let from = 0; from < bins; from += GROUP) {
      const top = [1, 1];
      const under = [1, 1];
      for (let b = from; b < Math.min(bins + (bins % 2), from + GROUP); b++) {
        const most = Math.max(levels[before + b - 1]!, levels[before + b + 1]!, levels[before + b]!);
        top[b % 2]! *= Math.max(Math.min(levels[here + b]!, levels[later + b]!), most) + floor;
        under[b % 2]! *= most + floor;
      }
      sum += Math.log((top[0]! / under[0]!) * (top[1]! / under[1]!));
    }
    return sum;
  }
}
