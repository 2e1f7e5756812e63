import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { blockLags, NOTHING, productOf } from './block-lags.ts';
import { FLAT_RATE_HZ, type FlatSound, flattened } from './flat-sound.ts';

/** A stretch of sound that is there twice, end to end, as where a recorder writes a buffer again. */
export interface Repeat {
  /** Where the second begins, the sound's own time, s. */
  readonly atSec: number;
  /** How long each is, s. */
  readonly lengthSec: number;
  /** Likeness of the two: correlation of the flattened sound, to 1. */
  readonly likeness: number;
  /** The greatest likeness of what lies so far apart in the two stretches before and the two after: a tone or a buzz goes on repeating. */
  readonly beside: number;
  /** Likeness in the four bands, of seven of 1 kHz from 0.5 kHz on, in which they are least alike; mean. */
  readonly leastAlike: number;
}

/** Recorders' buffers, s. */
const LEAST_SEC = 0.0045;
const MOST_SEC = 0.046;
/** A block of 6 ms every 10 ms: within any repeat of 16 ms one lies whole. Shorter ones are found at breaks, and half of the time elsewhere. */
const BLOCK = 96;
const HOP = 160;
/** Of noise one block in 100 is as like to something in the 46 ms before it; of sound that was written twice most are by 0.6 to 1. */
const LEAST_LIKENESS = 0.42;
const LEAST_WHOLE = 0.3;
/** So much is looked through at a time, and what is looked at beyond it, s. */
const PIECE_SEC = 10;
const MARGIN_SEC = 0.2;
/** Where else it is held against what lies so far before it, in lengths of the repeat. */
const BESIDE = [-2, -1, 1, 2] as const;
/** Slow frames to either side of a place that is told. */
const NEAR = 10;
/** Transforms of whole repeats, and the bands that are looked at. */
const WIDE = 1024;
const LEAST_BAND_HZ = 500;
const BAND_HZ = 1000;
const BANDS = 7;
const LEAST_BANDS = 4;

/**
 * Stretches between two times of a sound, s, that are there twice, in order of time; and for each of `places`, s, the likeliest that begins there.
 *
 * Where a recorder writes a buffer again, sound is followed by the same sound, sample by sample (after AAC to its coding noise): so is its noise, its
 * breath and the room in it, which no music repeats. The flattened sound of 6 ms out of every 10 is correlated with that of the 46 ms before it, and where
 * it is like some of it the repeat is looked for whose length is the distance. Takes 3 to 6 ms of CPU a second of sound.
 */
export function repeatsIn(
  sound: Sound,
  fromSec: number,
  toSec: number,
  places: readonly number[],
): { anywhere: Repeat[]; atPlaces: Map<number, Repeat> } {
  const anywhere: Repeat[] = [];
  const atPlaces = new Map<number, Repeat>();
  const most = Math.ceil(1.5 * FLAT_RATE_HZ * (Math.min(PIECE_SEC, toSec - fromSec) + 2 * MARGIN_SEC));
  const [flatRoom, energyRoom] = [new Float64Array(most), new Float64Array(most + 1)];
  for (let from = fromSec; from < toSec; from += PIECE_SEC) {
    const to = Math.min(toSec, from + PIECE_SEC);
    const inside = (atSec: number): boolean => atSec >= from && atSec < to;
    const search = new RepeatSearch(flattened(sound, from - MARGIN_SEC, to + MARGIN_SEC, flatRoom), energyRoom);
    anywhere.push(...search.all().filter(({ atSec }) => inside(atSec)));
    for (const place of places) if (inside(place)) atPlaces.set(place, search.at(place));
  }
  return { anywhere, atPlaces };
}

class RepeatSearch {
  readonly #flat: FlatSound;
  /** Energy before each sample. */
  readonly #energy: Float64Array;
  readonly #leastLag: number;
  readonly #mostLag: number;
  readonly #wide = new RealFft(WIDE);

  /** room: for its energies; they are of use until it is used again. */
  constructor(flat: FlatSound, room: Float64Array) {
    this.#flat = flat;
    const { samples, rateHz } = flat;
    this.#leastLag = Math.floor(LEAST_SEC * rateHz);
    this.#mostLag = Math.ceil(MOST_SEC * rateHz);
    this.#energy =
      samples.length < room.length ? room.subarray(0, samples.length + 1) : new Float64Array(samples.length + 1);
    this.#energy[0] = 0;
    for (let n = 0; n < samples.length; n++)
      this.#energy[n + 1] = this.#energy[n]! + samples[n]! * samples[n]! + NOTHING;
  }

  all(): Repeat[] {
    const { length } = this.#flat.samples;
    const first = Math.ceil((4 * this.#mostLag) / HOP) * HOP;
    const last = length - 4 * this.#mostLag;
    const plan = { first, last, hop: HOP, block: BLOCK, leastLag: this.#leastLag, mostLag: this.#mostLag };
    const { lags, squares } = blockLags(this.#flat.samples, plan);
    const found: Repeat[] = [];
    let known = Number.NEGATIVE_INFINITY;
    for (let n = 0; n < lags.length; n++) {
      const at = first + n * HOP;
      if (squares[n]! < LEAST_LIKENESS ** 2 || at < known) continue;
      const repeat = this.#about(at, lags[n]!);
      if (repeat === undefined) continue;
      found.push(repeat.repeat);
      known = repeat.end - BLOCK;
    }
    return found;
  }

  /** The likeliest repeat that begins at a place. */
  at(placeSec: number): Repeat {
    const { samples, rateHz, firstSec } = this.#flat;
    const middle = Math.round((placeSec - firstSec) * rateHz);
    let most = 0;
    let bestStart = middle;
    let bestLag = this.#leastLag;
    for (let lag = this.#leastLag; lag <= this.#mostLag; lag++) {
      let sum = productOf(samples, middle - NEAR, middle - NEAR - lag, lag);
      for (let start = middle - NEAR; start <= middle + NEAR; start++) {
        // Likelihood of long ones is the greater for the same likeness.
        const score = sum > 0 ? (sum * sum) / lag : 0;
        if (score > most) {
          most = score;
          bestStart = start;
          bestLag = lag;
        }
        sum += samples[start + lag]! * samples[start]! - samples[start]! * samples[start - lag]!;
      }
    }
    return this.#repeatOf(bestStart, bestLag);
  }

  /** The repeat by about a lag that holds a block, as long as the lag itself; where it ends. */
  #about(at: number, about: number): { repeat: Repeat; end: number } | undefined {
    let best = { likeness: 0, start: 0, lag: 0 };
    for (let lag = about - 1; lag <= about + 1; lag++) {
      const { likeness, start } = this.#bestStart(at, lag);
      if (likeness > best.likeness) best = { likeness, start, lag };
    }
    if (best.likeness < LEAST_WHOLE) return undefined;
    return { repeat: this.#repeatOf(best.start, best.lag), end: best.start + best.lag };
  }

  #repeatOf(start: number, lag: number): Repeat {
    const likeness = this.#likenessAt(start, lag, lag);
    const beside = BESIDE.map((lengths) => this.#likenessAt(start + lengths * lag, lag, lag));
    const [a, c] = [this.#likenessAt(start, lag, lag - 1), this.#likenessAt(start, lag, lag + 1)];
    const bend = a - 2 * likeness + c;
    const exact = lag + (bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (a - c)) / bend)) : 0);
    const { rateHz, firstSec } = this.#flat;
    return {
      atSec: firstSec + start / rateHz,
      lengthSec: exact / rateHz,
      likeness,
      beside: Math.max(...beside),
      leastAlike: this.#leastAlike(start, lag),
    };
  }

  /** Where a stretch as long as a lag, with the block in it at least in part, is most like what lies the lag before it. */
  #bestStart(at: number, lag: number): { likeness: number; start: number } {
    const { samples } = this.#flat;
    const energy = this.#energy;
    const from = at + (BLOCK >> 1) - lag;
    const to = at + (BLOCK >> 1);
    let sum = productOf(samples, from, from - lag, lag);
    let likeness = 0;
    let chosen = from;
    for (let start = from; start <= to; start++) {
      if (sum > 0) {
        const both = (energy[start + lag]! - energy[start]!) * (energy[start]! - energy[start - lag]!);
        const here = sum / Math.sqrt(both);
        if (here > likeness) {
          likeness = here;
          chosen = start;
        }
      }
      sum += samples[start + lag]! * samples[start]! - samples[start]! * samples[start - lag]!;
    }
    return { likeness, start: chosen };
  }

  /** Mean likeness of a stretch and what lies its length before it, in the bands where it is least. */
  #leastAlike(start: number, length: number): number {
    const here = this.#spectrumOf(start, length);
    const before = this.#spectrumOf(start - length, length);
    const binHz = this.#flat.rateHz / WIDE;
    const likeness = Array.from({ length: BANDS }, (_, n) => {
      const from = Math.round((LEAST_BAND_HZ + n * BAND_HZ) / binHz);
      return likenessOf(here, before, from, from + Math.round(BAND_HZ / binHz));
    });
    const least = likeness.sort((a, b) => a - b).slice(0, LEAST_BANDS);
    return least.reduce((sum, one) => sum + one, 0) / LEAST_BANDS;
  }

  #spectrumOf(start: number, length: number): Spectrum {
    const row = new Float64Array(WIDE);
    row.set(this.#flat.samples.subarray(start, start + length));
    const spectrum = { re: new Float64Array(this.#wide.bins), im: new Float64Array(this.#wide.bins) };
    this.#wide.forward(row, spectrum.re, spectrum.im);
    return spectrum;
  }

  #likenessAt(start: number, length: number, lag: number): number {
    const { samples } = this.#flat;
    const energy = this.#energy;
    const both = (energy[start + length]! - energy[start]!) * (energy[start + length - lag]! - energy[start - lag]!);
    return productOf(samples, start, start - lag, length) / Math.sqrt(both);
  }
}

interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** How alike two spectra are in the bins from..to-1, phases and all. */
function likenessOf(a: Spectrum, b: Spectrum, from: number, to: number): number {
  let both = 0;
  let one = 0;
  let other = 0;
  for (let k = from; k < to; k++) {
    both += a.re[k]! * b.re[k]! + a.im[k]! * b.im[k]!;
    one += a.re[k]! ** 2 + a.im[k]! ** 2;
    other += b.re[k]! ** 2 + b.im[k]! ** 2;
  }
  return both / Math.sqrt(one * other + NOTHING);
}
