import { RealFft } from '../signal/fft.ts';
import { makeWindow } from '../signal/window.ts';
import { Decimator } from './decimator.ts';
import { HarmonicRefiner, type Refined } from './harmonic-refiner.ts';

/** The tracker's hop is five of its steps at every rate, so that a fifth of its rate has a whole hop, too. */
const STEP = 5;
/** Length of a window, s, to the nearest power of two of frames. */
const LENGTH_SEC = 0.19;
/**
 * Where so many partials stand (`Refined.standing`) a pitch is no common fraction of several notes, though its first partials are
 * missing: rooms and small microphones leave little below 80 Hz. Of a fifth's common fraction 3.5 stand, of other intervals' fewer.
 */
const WHOLE_STANDING = 5;
/** The decimator wants so many of its output frames beyond the one it gives. */
const DECIMATOR_FRAMES = 12;

/**
 * Looks at the tracker's frames through a window more than twice as long (213 ms where the tracker works at 12 kHz), in which the
 * partials of notes down to 26 Hz stand apart, each for itself, and tell an octave from the note below it. It works at a fifth of
 * the rate; beyond 1 kHz it hears nothing. Costs next to nothing but for the frames that are looked at (`begin`).
 */
export class SlowWindow {
  /** So far beyond the middle of a frame the sound has to be known, frames of the tracker. */
  readonly reachFrames: number;
  readonly #size: number;
  readonly #hop: number;
  readonly #decimator = new Decimator(STEP);
  readonly #fft: RealFft;
  readonly #refiner: HarmonicRefiner;
  readonly #hann: Float64Array;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  readonly #window: Float64Array;
  /** What was heard last, up to `#filled`; this frame's window begins at `#from`, that of the frame before a hop earlier. */
  readonly #row: Float64Array;
  #from: number;
  #filled: number;
  /** A hop of the tracker's samples, not yet handed to the decimator. */
  readonly #waiting: Float32Array;
  #waitingCount = 0;
  #whole = 0;
  #isLooked = false;
  #isBeforeLooked = false;
  readonly #take = (value: number): void => {
    this.#row[this.#filled++] = value;
  };

  /** hopFrames: of the tracker, a multiple of five; rateHz: the tracker's own. Frame 0 lies at its first sample. */
  constructor(hopFrames: number, rateHz: number) {
    const slowHz = rateHz / STEP;
    this.#size = 2 ** Math.round(Math.log2(LENGTH_SEC * slowHz));
    this.#hop = hopFrames / STEP;
    this.reachFrames = STEP * (this.#size / 2 + DECIMATOR_FRAMES) + hopFrames;
    this.#fft = new RealFft(this.#size);
    this.#refiner = new HarmonicRefiner(this.#size, this.#hop, slowHz);
    this.#hann = makeWindow('hann', this.#size);
    this.#re = new Float64Array(this.#fft.bins);
    this.#im = new Float64Array(this.#fft.bins);
    this.#window = new Float64Array(this.#size);
    this.#row = new Float64Array(8 * this.#size);
    this.#from = this.#hop;
    this.#filled = this.#hop + this.#size / 2;
    this.#waiting = new Float32Array(hopFrames);
  }

  /** Takes the tracker's next sample. */
  add(value: number): void {
    this.#waiting[this.#waitingCount++] = value;
    if (this.#waitingCount < this.#waiting.length) return;
    this.#decimator.add(this.#waiting, this.#take);
    this.#waitingCount = 0;
  }

  /** Looks at this frame, before `refine`. */
  begin(): void {
    if (!this.#isBeforeLooked) {
      this.#look(this.#from - this.#hop);
      this.#refiner.next();
    }
    this.#whole = this.#look(this.#from);
    this.#isLooked = true;
  }

  /** As `HarmonicRefiner.refine`, by what this window shows. */
  refine(coarseHz: number): Refined {
    const refined = this.#refiner.refine(coarseHz, this.#whole);
    if (refined.standing >= WHOLE_STANDING) refined.isHollow = false;
    return refined;
  }

  /** Goes on to the next frame, whether or not this one was looked at. */
  next(): void {
    if (this.#isLooked) this.#refiner.next();
    this.#isBeforeLooked = this.#isLooked;
    this.#isLooked = false;
    this.#from += this.#hop;
    if (this.#filled + 2 * this.#hop < this.#row.length) return;
    const kept = this.#from - this.#hop;
    this.#row.copyWithin(0, kept, this.#filled);
    this.#filled -= kept;
    this.#from = this.#hop;
  }

  /** Spectrum of a window; gives the sum of its bins' powers (Parseval, one side). */
  #look(from: number): number {
    const window = this.#window;
    let weighted = 0;
    for (let n = 0; n < this.#size; n++) {
      const value = this.#row[from + n]!;
      window[n] = value;
      weighted += (value * this.#hann[n]!) ** 2;
    }
    this.#fft.forward(window, this.#re, this.#im);
    this.#refiner.begin(this.#re, this.#im);
    return 0.5 * this.#size * weighted + 1e-20;
  }
}
