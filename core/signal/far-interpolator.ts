import { CHUNK_FRAMES, type FrameReader, type Interpolator, Staging } from './interpolator.ts';
import { kaiserBeta, makeSincTable } from './sinc-table.ts';

/** Taps at a step of 1 of the single-table way: -100 dB from 0.9 to 1.1 of the result's Nyquist frequency. */
const FAR_TAPS = 64;
const FAR_BETA = kaiserBeta(100);
/** (omega / phases)^2 / 8 with omega = 0.9 pi at most: -108 dB. */
const FAR_PHASES = 512;

/** One table of a windowed sinc with lowered cutoff; for steps above 1. */
export class FarInterpolator implements Interpolator {
  readonly reachFrames: number;
  readonly #step: number;
  readonly #taps: number;
  readonly #table: Float64Array;
  readonly #staging: Staging;

  constructor(step: number) {
    this.#step = step;
    this.#taps = 2 * Math.ceil((FAR_TAPS / 2) * step);
    this.#table = makeSincTable(this.#taps, FAR_PHASES, FAR_BETA, 1 / step);
    this.reachFrames = this.#taps / 2;
    this.#staging = new Staging(Math.ceil(CHUNK_FRAMES * step) + this.#taps + 8);
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
    const taps = this.#taps;
    const table = this.#table;
    for (let done = 0; done < count; done += CHUNK_FRAMES) {
      const some = Math.min(CHUNK_FRAMES, count - done);
      const first = fromIndex + done;
      const base = Math.floor(startFrame + first * step) - taps / 2 + 1;
      // As many for every place, so that equal requests need no new view.
      const staged = this.#staging.read(input, base, Math.ceil((some - 1) * step) + taps + 1);
      for (let i = 0; i < some; i++) {
        const place = startFrame + (first + i) * step;
        const whole = Math.floor(place);
        const phase = (place - whole) * FAR_PHASES;
        const row = Math.floor(phase);
        const from = whole - taps / 2 + 1 - base;
        const at = row * taps;
        let lower = 0;
        let upper = 0;
        for (let j = 0; j < taps; j++) {
          const value = staged[from + j]!;
          lower += table[at + j]! * value;
          upper += table[at + taps + j]! * value;
        }
        output[outputFrom + done + i] = lower + (phase - row) * (upper - lower);
      }
    }
  }
}
