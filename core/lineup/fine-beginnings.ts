import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { makeWindow } from '../signal/window.ts';
import { SlowStream } from './break-pulses.ts';
import { SlowCopy } from './slow-copy.ts';

/** A moment near which a note begins, s, and how far before and after it is looked for. */
export interface RoughBeginning {
  readonly atSec: number;
  readonly reachSec: number;
}

/** When a note begins, s, and how much begins then, beside the usual note of its sound; any unit. */
export interface FineBeginning {
  readonly atSec: number;
  readonly height: number;
}

/**
 * Ways to hear a beginning: short windows tell the time better, long ones tell neighbouring notes apart. Levels are taken over a share of
 * a usual note's loudest partial: over little of it the softest beginning counts, and the end of the note before it too.
 */
const WINDOWS = [256, 512] as const;
const FLOOR_SHARES = [0.003, 0.01, 0.04] as const;
/** Rate of what is looked at, about, and from where to where its spectrum is, Hz. */
const RATE_HZ = 8000;
const LOWEST_HZ = 80;
const HIGHEST_HZ = 3500;
const HOP_SEC = 0.004;
/** A beginning is where what rises passes this share of its greatest: later on an attack is the instrument's own. */
const PASSED = 0.2;
/** What is heard beyond the reach, so that a rise in its last moment is whole, s. */
const MARGIN_SEC = 0.04;
/** Where a note is as loud as it usually gets, s after it began. */
const SOUNDING_SEC = 0.1;
const MOST_REACH_SEC = 0.12;
/** A rise that is gone after so many frames is the end of a note, or a knock. */
const HELD_FRAMES = 10;

/**
 * Tells when notes begin, near moments that are known to a tenth of a second.
 *
 * What begins is the sum over a spectrum's bins of how far its logarithm rises over the loudest of three bins half a window before, so that a
 * vibrato is none (S. Böck and G. Widmer, Maximum filter vibrato suppression for onset detection, DAFx 2013), every 4 ms. Of sampled
 * notes of 13 instruments in a room, 18 to 40 dB over the noise, beginnings scatter about their own middle by 1 to 13 ms (1.48 times the median
 * of how far they lie from it). Reads 0.3 s of the sound a moment.
 */
export class BeginningFinder {
  readonly #stream: SlowStream;
  readonly #rate: number;
  readonly #rows: readonly RiseRow[];
  readonly #heard: Float64Array;
  #isSet = false;

  constructor(sound: Sound) {
    const slow = new SlowCopy(sound.rateHz, RATE_HZ);
    this.#rate = slow.rateHz;
    this.#stream = new SlowStream(sound, slow, 512);
    const frames = 2 * Math.ceil((MOST_REACH_SEC + MARGIN_SEC) / HOP_SEC) + 2;
    this.#rows = WINDOWS.map((size) => new RiseRow(size, this.#rate, frames));
    this.#heard = new Float64Array(Math.ceil(frames * HOP_SEC * this.#rate) + 2 * WINDOWS.at(-1)!);
  }

  /** For each moment, the beginning by each way to hear it. How loud a usual note is, is learnt from the first call's moments. */
  find(moments: readonly RoughBeginning[]): FineBeginning[][] {
    if (!this.#isSet) this.#learn(moments);
    return moments.map(({ atSec, reachSec }) => {
      const reach = Math.min(reachSec, MOST_REACH_SEC);
      const fromSec = this.#hear(atSec - reach - MARGIN_SEC, 2 * (reach + MARGIN_SEC));
      return this.#rows.flatMap((row) => row.find(fromSec));
    });
  }

  #learn(moments: readonly RoughBeginning[]): void {
    const peaks: number[][] = this.#rows.map(() => []);
    const every = Math.max(1, Math.floor(moments.length / 200));
    for (let n = 0; n < moments.length; n += every) {
      this.#hear(moments[n]!.atSec + SOUNDING_SEC, HOP_SEC);
      for (const [way, row] of this.#rows.entries()) peaks[way]!.push(row.loudest());
    }
    for (const [way, row] of this.#rows.entries()) {
      const sorted = peaks[way]!.sort((a, b) => a - b);
      row.usual = Math.max(1e-9, sorted[Math.floor(0.6 * sorted.length)] ?? 0);
    }
    this.#isSet = true;
  }

  /** Hears so long a stretch; gives when its first frame is centred, s. */
  #hear(fromSec: number, lengthSec: number): number {
    const side = WINDOWS.at(-1)! / 2;
    const first = Math.round(fromSec * this.#rate);
    const frames = Math.floor(lengthSec / HOP_SEC) + 1;
    const length = Math.ceil(frames * HOP_SEC * this.#rate) + 2 * side;
    const heard = this.#heard.subarray(0, length);
    this.#stream.seek(first - side);
    this.#stream.read(heard);
    for (const row of this.#rows) row.hear(heard, side, frames);
    return first / this.#rate;
  }
}

/** What rises along a short stretch, through one window. */
class RiseRow {
  /** Of a usual note's loudest partial. */
  usual = 1e-9;
  readonly #size: number;
  readonly #fft: RealFft;
  readonly #window: Float64Array;
  readonly #work: Float64Array;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  readonly #firstBin: number;
  readonly #bins: number;
  readonly #hop: number;
  /** Frames between the two that are compared. */
  readonly #gap: number;
  /** Magnitudes, a row a frame, a bin of nothing before and after each. */
  readonly #levels: Float64Array;
  /** What rises in each frame, over each floor. */
  readonly #rises: readonly Float64Array[];
  #frames = 0;

  constructor(size: number, rateHz: number, mostFrames: number) {
    this.#size = size;
    this.#fft = new RealFft(size);
    this.#window = makeWindow('hann', size);
    this.#work = new Float64Array(size);
    this.#re = new Float64Array(this.#fft.bins);
    this.#im = new Float64Array(this.#fft.bins);
    const binHz = rateHz / size;
    this.#firstBin = Math.max(1, Math.round(LOWEST_HZ / binHz));
    this.#bins = Math.min(this.#fft.bins - 1, Math.round(HIGHEST_HZ / binHz)) - this.#firstBin;
    this.#hop = HOP_SEC * rateHz;
    this.#gap = Math.max(1, Math.round(size / 2 / this.#hop));
    this.#levels = new Float64Array(mostFrames * (this.#bins + 2));
    this.#rises = FLOOR_SHARES.map(() => new Float64Array(mostFrames));
  }

  /** heard: slow samples; the first frame is centred on number `side`. */
  hear(heard: Float64Array, side: number, frames: number): void {
    this.#frames = frames;
    const size = this.#size;
    const work = this.#work;
    const window = this.#window;
    const first = this.#firstBin;
    const last = first + this.#bins;
    const re = this.#re;
    const im = this.#im;
    const levels = this.#levels;
    let to = 1;
    for (let n = 0; n < frames; n++) {
      const from = side + Math.round(n * this.#hop) - size / 2;
      for (let i = 0; i < size; i++) work[i] = heard[from + i]! * window[i]!;
      this.#fft.forward(work, re, im);
      for (let b = first; b < last; b++) {
        const x = re[b]!;
        const y = im[b]!;
        levels[to++] = Math.sqrt(x * x + y * y);
      }
      to += 2;
    }
  }

  /** Of the first frame. */
  loudest(): number {
    let most = 0;
    for (let b = 1; b <= this.#bins; b++) most = Math.max(most, this.#levels[b]!);
    return most;
  }

  /** The beginning in what was heard, over each floor. fromSec: when its first frame is centred. */
  find(fromSec: number): FineBeginning[] {
    for (const rises of this.#rises) rises.fill(0, 0, this.#gap);
    for (let n = this.#gap; n < this.#frames; n++) this.#setRises(n);
    return this.#rises.map((rises) => this.#beginningIn(rises, fromSec));
  }

  #beginningIn(rises: Float64Array, fromSec: number): FineBeginning {
    const margin = Math.round(MARGIN_SEC / HOP_SEC);
    const late = this.#gap >> 1;
    const to = Math.min(this.#frames, this.#frames - margin + late);
    let best = margin + late;
    for (let n = best; n < to; n++) if (rises[n]! > rises[best]!) best = n;
    const sorted = rises.slice(this.#gap, this.#frames).sort();
    const base = sorted[Math.floor(0.2 * sorted.length)]!;
    const height = rises[best]! - base;
    const passed = base + PASSED * height;
    let at = best;
    while (at > this.#gap && rises[at - 1]! > passed) at--;
    const step = rises[at]! - rises[at - 1]!;
    const exact = at > this.#gap && step > 0 ? at - (rises[at]! - passed) / step : at;
    // A rise lies between the two frames that are compared.
    return { atSec: fromSec + (exact - 0.5 * this.#gap) * HOP_SEC, height };
  }

  /** What rises in frame n, over each floor. */
  #setRises(n: number): void {
    const width = this.#bins + 2;
    const levels = this.#levels;
    const [low, middle, high] = this.#rises;
    const lowFloor = FLOOR_SHARES[0] * this.usual;
    const middleFloor = FLOOR_SHARES[1] * this.usual;
    const highFloor = FLOOR_SHARES[2] * this.usual;
    const before = (n - this.#gap) * width;
    const here = n * width;
    const later = Math.min(this.#frames - 1, n + HELD_FRAMES) * width;
    let ofLow = 0;
    let byLow = 1;
    let byMiddle = 1;
    let byHigh = 1;
    let ofMiddle = 0;
    let ofHigh = 0;
    for (let b = 1; b <= this.#bins; b++) {
      const level = Math.min(levels[here + b]!, levels[later + b]!);
      const earlier = levels[before + b]!;
      if (level <= earlier) continue;
      const most = Math.max(levels[before + b - 1]!, earlier, levels[before + b + 1]!);
      if (level <= most) continue;
      byLow *= (level + lowFloor) / (most + lowFloor);
      byMiddle *= (level + middleFloor) / (most + middleFloor);
      byHigh *= (level + highFloor) / (most + highFloor);
      // The logarithm of many at once; the lowest floor makes the greatest.
      if (byLow < 1e60) continue;
      ofLow += Math.log(byLow);
      ofMiddle += Math.log(byMiddle);
      ofHigh += Math.log(byHigh);
      byLow = 1;
      byMiddle = 1;
      byHigh = 1;
    }
    low![n] = ofLow + Math.log(byLow);
    middle![n] = ofMiddle + Math.log(byMiddle);
    high![n] = ofHigh + Math.log(byHigh);
  }
}
