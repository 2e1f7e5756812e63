import { RealFft } from '../signal/fft.ts';
import { makeWindow } from '../signal/window.ts';
import { HarmonicRefiner, type Refined } from './harmonic-refiner.ts';
import { fillHannPowers, PIECE_FRAMES, type PitchEar, SLOW_STEP, type Spectrum } from './pitch-ear.ts';

/** Length of a window, s, to the nearest power of two of frames. */
const LENGTH_SEC = 0.19;
/**
 * Where so many partials stand (`Refined.standing`) a pitch is no common fraction of several notes, though its first partials are
 * missing: rooms and small microphones leave little below 80 Hz. Of a fifth's common fraction 3.5 stand, of other intervals' fewer.
 */
const WHOLE_STANDING = 5;
/** The decimator wants so many of its output frames beyond the one it gives. */
const DECIMATOR_FRAMES = 12;

/** How long the window is, and what it needs of an ear. */
export interface SlowShape {
  /** Frames of the slow row: of a window, and from one to the next. */
  readonly size: number;
  readonly hop: number;
  /** So far beyond the middle of a frame the sound has to be known, frames of the tracker. */
  readonly reachFrames: number;
  /** Length of the slow row, and how many zeros it begins with. */
  readonly slowFrames: number;
  readonly firstSlow: number;
}

/** hopFrames: of the tracker, a multiple of five; rateHz: the tracker's own. */
export function slowShape(hopFrames: number, rateHz: number): SlowShape {
  const size = 2 ** Math.round(Math.log2((LENGTH_SEC * rateHz) / SLOW_STEP));
  const hop = hopFrames / SLOW_STEP;
  return {
    ...{ size, hop, reachFrames: SLOW_STEP * (size / 2 + DECIMATOR_FRAMES) + hopFrames },
    ...{ slowFrames: 4 * size + 2 * mostMoreSlow(), firstSlow: hop + size / 2 },
  };
}

/** What an ear hears at once makes no more than so many frames of the slow row. */
export function mostMoreSlow(): number {
  return Math.ceil(PIECE_FRAMES / SLOW_STEP) + 1;
}

/**
 * Looks at the tracker's frames through a window more than twice as long (213 ms where the tracker works at 12 kHz), in which the
 * partials of notes down to 26 Hz stand apart, each for itself, and tell an octave from the note below it. It works at a fifth of
 * the rate; beyond 1 kHz it hears nothing. Costs next to nothing but for the frames that are looked at (`begin`).
 */
export class SlowWindow {
  readonly #shape: SlowShape;
  readonly #ear: PitchEar;
  readonly #fft: RealFft;
  readonly #refiner: HarmonicRefiner;
  readonly #hann: Float64Array;
  readonly #window: Float64Array;
  /** Of this window and the one before, in turn. */
  readonly #spectra: readonly [Spectrum, Spectrum];
  #turn: 0 | 1 = 0;
  /** This frame's window begins here in the ear's slow row, that of the frame before a hop earlier. */
  #from: number;
  #whole = 0;
  #isLooked = false;
  #isBeforeLooked = false;

  /** rateHz: the tracker's own. Frame 0 lies at its first sample. */
  constructor(shape: SlowShape, ear: PitchEar, rateHz: number) {
    const { size, hop } = shape;
    this.#shape = shape;
    this.#ear = ear;
    this.#fft = new RealFft(size);
    this.#refiner = new HarmonicRefiner(size, hop, rateHz / SLOW_STEP);
    this.#hann = makeWindow('hann', size);
    this.#window = new Float64Array(size);
    const bins = (): Float64Array => new Float64Array(size / 2 + 1);
    const powers = bins();
    this.#spectra = [
      { re: bins(), im: bins(), powers },
      { re: bins(), im: bins(), powers },
    ];
    this.#from = hop;
  }

  /** Looks at this frame, before `refine`. */
  begin(): void {
    if (!this.#isBeforeLooked) {
      this.#look(this.#from - this.#shape.hop);
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
    this.#from += this.#shape.hop;
  }

  /** Drops what no window needs any more where the ear may lack room for what it hears next. */
  makeRoom(): void {
    const { slow, slowCount } = this.#ear;
    const kept = this.#from - this.#shape.hop;
    if (kept === 0 || slowCount + mostMoreSlow() < slow.length) return;
    this.#ear.forgetSlow(kept);
    this.#from -= kept;
  }

  /** Spectrum of a window; gives the sum of its bins' powers (Parseval, one side). */
  #look(from: number): number {
    const { slow } = this.#ear;
    const { size } = this.#shape;
    const window = this.#window;
    const hann = this.#hann;
    let weighted = 0;
    for (let n = 0; n < size; n++) {
      const value = slow[from + n]!;
      window[n] = value;
      weighted += (value * hann[n]!) ** 2;
    }
    this.#turn = this.#turn === 0 ? 1 : 0;
    const spectrum = this.#spectra[this.#turn];
    this.#fft.forward(window, spectrum.re, spectrum.im);
    fillHannPowers(spectrum);
    this.#refiner.begin(spectrum);
    return 0.5 * size * weighted + 1e-20;
  }
}
