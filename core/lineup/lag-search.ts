import { RealFft } from '../signal/fft.ts';
import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { BANDS, type LagRoom, lagRoom } from './lag-room.ts';
import { FRAME_SEC, type Rises } from './trace.ts';

/** A lag at which two recordings' note beginnings agree: time in the one less time in the other, s. */
export interface LagPeak {
  readonly lagSec: number;
  /** Height over the usual correlation at other lags, in robust standard deviations of it. */
  readonly height: number;
}

/** The lags at which a recording fits another best, best first. */
export interface LagPeaks {
  /** Band by band: for two recordings of the same notes. */
  readonly byLine: readonly LagPeak[];
  /** All bands together: for two recordings whose notes differ in pitch. */
  readonly broad: readonly LagPeak[];
}

const MOST_PEAKS = 12;
/** The first recording's spectra are kept for the next search up to this length of a transform: 11 MB. */
const MOST_KEPT = 65536;
/** Spectra of a room: the sum, one band of each recording, and those that are kept. */
const [SUM, OF_ONE, OF_OTHER, KEPT] = [0, 1, 2, 3];

/**
 * Searches for one recording's note beginnings in another's at every lag, in 20 bands and all together, by correlation in
 * the frequency domain. Bands are gone through one after the other, so that memory is some ten arrays of the
 * transform's length (some 4 MB for two recordings of 10 min), which are kept for the next search; so are, up to 26 min of
 * both together, the spectra of the first recording, which is often that of the next search too. Where there is a kernel they lie in its memory,
 * where the next one to search finds them gone.
 */
export class LagSearch {
  readonly #kernel: BleedKernel | null;
  #size = 0;
  #fft = new RealFft(64);
  #room: LagRoom | undefined;
  /** Bands of a recording whose spectra are kept, by transforms of the size at hand. */
  #kept: { readonly of: Rises; readonly bands: Set<number> } | undefined;

  /** kernel: null for plain TypeScript, which finds the same to the last bit. */
  constructor(kernel: BleedKernel | null = bleedKernel()) {
    this.#kernel = kernel;
  }

  /** Times in `other` less times in `one`. */
  peaks(one: Rises, other: Rises): LagPeaks {
    const room = this.#makeRoom(one.frames + other.frames + 2);
    return {
      byLine: this.#search(room, one, other, 0, BANDS),
      broad: this.#search(room, one, other, BANDS, BANDS + 1),
    };
  }

  #makeRoom(steps: number): LagRoom {
    let size = 64;
    while (size < steps) size *= 2;
    if (size === this.#size && this.#room?.isOwn() === true) return this.#room;
    this.#size = size;
    this.#kept = undefined;
    this.#fft = new RealFft(size);
    this.#room = lagRoom(size, size > MOST_KEPT ? KEPT : KEPT + BANDS + 1, this.#kernel);
    return this.#room;
  }

  #search(room: LagRoom, one: Rises, other: Rises, fromBand: number, toBand: number): LagPeak[] {
    if (one.frames === 0 || other.frames === 0) return [];
    room.begin(one, other);
    for (let band = fromBand; band < toBand; band++) {
      this.#transform(room, 'other', band, OF_OTHER);
      room.addCrossed(SUM, this.#spectrumOf(room, one, band), OF_OTHER);
    }
    const { re, im } = room.spectrum(SUM);
    this.#fft.inverse(re, im, room.work());
    const { peaks, spread } = room.highest(one.frames, other.frames, MOST_PEAKS);
    return peaks.map(({ steps, value }) => ({ lagSec: steps * FRAME_SEC, height: value / (spread || 1) }));
  }

  /** Where the spectrum of a band of the first recording lies: kept where it is not too long. */
  #spectrumOf(room: LagRoom, one: Rises, band: number): number {
    if (this.#size > MOST_KEPT) return this.#transform(room, 'one', band, OF_ONE);
    if (this.#kept?.of !== one) this.#kept = { of: one, bands: new Set() };
    const { bands } = this.#kept;
    if (bands.has(band)) return KEPT + band;
    bands.add(band);
    return this.#transform(room, 'one', band, KEPT + band);
  }

  #transform(room: LagRoom, side: 'one' | 'other', band: number, to: number): number {
    const work = room.band(side, band);
    const { re, im } = room.spectrum(to);
    this.#fft.forward(work, re, im);
    return to;
  }
}
