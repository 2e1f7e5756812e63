import { RealFft } from '../signal/fft.ts';
import { weighedSum } from '../signal/side-sums.ts';
import type { Sound } from '../signal/sound.ts';

/** Rate at which bleed is looked for, Hz. Headphones leak mostly between some hundred hertz and 4 kHz. */
const RATE_HZ = 8000;
/** Lags looked at on either side of the assumed placement, s. */
export const BLEED_REACH_SEC = 0.048;
const REACH = BLEED_REACH_SEC * RATE_HZ;
const LOW_HZ = 800;
const HIGH_HZ = 3700;
/** Lags are computed at twice the rate, so that a peak between two samples keeps its height. */
export const LAG_HZ = 2 * RATE_HZ;

/** How long a stretch of the guide is that is looked for at once. */
export interface RowShape {
  readonly segmentSec: number;
  /** Transform length: holds the segment and the lags on both sides. */
  readonly size: number;
}

/** For finding bleed at all, and for following it. */
export const SEGMENT: RowShape = { segmentSec: 0.416, size: 4096 };
/** For finding the moment at which it jumps. */
export const CELL: RowShape = { segmentSec: 0.104, size: 2048 };

/** Reads a sound at any time and speed, at RATE_HZ, low-passed. */
export class SlowReader {
  readonly #sound: Sound;
  readonly #half: number;
  readonly #phases: Float64Array[] = [];
  readonly #raw: Float32Array;
  readonly #wide: Float64Array;

  constructor(sound: Sound, { size }: RowShape) {
    this.#sound = sound;
    const ratio = sound.rateHz / RATE_HZ;
    this.#half = Math.ceil(2.7 * Math.max(1, ratio));
    for (let phase = 0; phase < 32; phase++) this.#phases.push(lowPass(this.#half, phase / 32, ratio));
    this.#raw = new Float32Array(Math.ceil(size * ratio * 1.001) + 2 * this.#half + 8);
    this.#wide = new Float64Array(this.#raw.length);
  }

  /** Fills `target` from `count` samples on: sample n is the sound at fromSec + n * speed / RATE_HZ. */
  read(fromSec: number, speed: number, count: number, target: Float64Array): void {
    const half = this.#half;
    const start = fromSec * this.#sound.rateHz;
    const first = Math.floor(start) - half;
    const step = (this.#sound.rateHz * speed) / RATE_HZ;
    const raw = this.#raw.subarray(0, Math.min(this.#raw.length, Math.ceil(count * step) + 2 * half + 8));
    this.#sound.read(first, raw);
    const wide = this.#wide;
    for (let n = 0; n < raw.length; n++) wide[n] = raw[n]!;
    target.fill(0);
    for (let n = 0; n < count; n++) {
      const at = start - first + n * step;
      let whole = Math.floor(at);
      let phase = Math.round((at - whole) * 32);
      if (phase === 32) {
        phase = 0;
        whole++;
      }
      target[n] = weighedSum(this.#phases[phase]!, wide, whole - half + 1);
    }
  }
}

function lowPass(half: number, fraction: number, ratio: number): Float64Array {
  const taps = new Float64Array(2 * half);
  const cut = 1 / Math.max(1, ratio);
  let sum = 0;
  for (let k = 0; k < 2 * half; k++) {
    const x = k - half + 1 - fraction;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x * cut) / (Math.PI * x * cut);
    const window = Math.abs(x) >= half ? 0 : 0.5 + 0.5 * Math.cos((Math.PI * x) / half);
    taps[k] = sinc * window;
    sum += taps[k]!;
  }
  for (let k = 0; k < 2 * half; k++) taps[k] = taps[k]! / sum;
  return taps;
}

/** The spectrum of a stretch of the guide between LOW_HZ and HIGH_HZ. */
export interface GuideSegment {
  readonly atSec: number;
  readonly re: Float32Array;
  readonly im: Float32Array;
}

function bandOf({ size }: RowShape): { readonly low: number; readonly high: number } {
  return { low: Math.ceil((LOW_HZ / RATE_HZ) * size), high: Math.floor((HIGH_HZ / RATE_HZ) * size) };
}

/** Transforms stretches of a guide that begin at `timesSec`. Memory: 12 kB each for segments. */
export function guideSegments(guide: Sound, timesSec: readonly number[], shape: RowShape): GuideSegment[] {
  const reader = new SlowReader(guide, shape);
  const fft = new RealFft(shape.size);
  const work = new Float64Array(shape.size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const { low, high } = bandOf(shape);
  return timesSec.map((atSec) => {
    reader.read(atSec, 1, Math.round(shape.segmentSec * RATE_HZ), work);
    fft.forward(work, re, im);
    return {
      atSec,
      re: Float32Array.from(re.subarray(low, high + 1)),
      im: Float32Array.from(im.subarray(low, high + 1)),
    };
  });
}

/**
 * A take correlated with stretches of the guide: for each a row of lags from -BLEED_REACH_SEC on, LAG_HZ a second, about the
 * take's own time that takeSecOf gives for its beginning; the take is read at `speed`. Each spectral line is weighed by one
 * over the take's own power there (the optimum weight for a weak signal in coloured noise; Knapp and Carter 1976, IEEE
 * Trans. ASSP 24(4)), so that the player's tones and the hum count little.
 */
export function correlateRows(
  segments: readonly GuideSegment[],
  take: Sound,
  takeSecOf: (sessionSec: number) => number,
  speed: number,
  shape: RowShape,
): Float64Array[] {
  const { size, segmentSec } = shape;
  const reader = new SlowReader(take, shape);
  const fft = new RealFft(size);
  const work = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const power = new Float64Array(fft.bins);
  const { low, high } = bandOf(shape);
  const span = Math.round(segmentSec * RATE_HZ) + 2 * REACH;
  const fine = new RealFft(2 * size);
  const fineRe = new Float64Array(fine.bins);
  const fineIm = new Float64Array(fine.bins);
  const lags = new Float64Array(2 * size);
  return segments.map((segment) => {
    reader.read(takeSecOf(segment.atSec) - BLEED_REACH_SEC, speed, span, work);
    fadeEnds(work, span);
    fft.forward(work, re, im);
    smoothPower(re, im, power);
    const segmentRe = segment.re;
    const segmentIm = segment.im;
    for (let k = low; k <= high; k++) {
      const weight = 1 / (power[k]! + 1e-12);
      const gRe = segmentRe[k - low]!;
      const gIm = segmentIm[k - low]!;
      fineRe[k] = weight * (re[k]! * gRe + im[k]! * gIm);
      fineIm[k] = weight * (im[k]! * gRe - re[k]! * gIm);
    }
    fine.inverse(fineRe, fineIm, lags);
    return lags.slice(0, 4 * REACH);
  });
}

function fadeEnds(work: Float64Array, span: number): void {
  const fade = REACH;
  for (let n = 0; n < fade; n++) {
    const gain = Math.sin((0.5 * Math.PI * (n + 0.5)) / fade) ** 2;
    work[n]! *= gain;
    work[span - 1 - n]! *= gain;
  }
}

/** Power of a spectrum, averaged over thirteen lines. */
function smoothPower(re: Float64Array, im: Float64Array, power: Float64Array): void {
  const count = re.length;
  let sum = 0;
  for (let k = 0; k < 6; k++) sum += re[k]! * re[k]! + im[k]! * im[k]!;
  for (let k = 0; k < count; k++) {
    const come = k + 6;
    if (come < count) sum += re[come]! * re[come]! + im[come]! * im[come]!;
    power[k] = Math.max(sum, 0) / 13;
    const gone = k - 6;
    if (gone >= 0) sum -= re[gone]! * re[gone]! + im[gone]! * im[gone]!;
  }
}
