import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { stackAlongDrifts } from './drift-stack.ts';

/** Rate at which bleed is looked for, Hz. Headphones leak mostly between some hundred hertz and 4 kHz. */
const RATE_HZ = 8000;
const SEGMENT_SEC = 0.416;
/** Lags looked at on either side of the assumed placement, s. */
export const BLEED_REACH_SEC = 0.048;
const SIZE = 4096;
const SEGMENT = SEGMENT_SEC * RATE_HZ;
const REACH = BLEED_REACH_SEC * RATE_HZ;
const LOW_HZ = 800;
const HIGH_HZ = 3700;
const MOST_SEGMENTS = 112;
/** Height the peak must have near a place that the notes confirm. Measured on 406 trials without bleed: never above 4.7. */
const LEAST_HEIGHT = 4.8;
/** The same where only a clap says where to look: more lags are likely then (measured on 238 wrong guides: up to 5.2). */
const LEAST_UNCONFIRMED_HEIGHT = 6.2;
/** Of four parts of the take so many must show the guide by themselves, each at least so high. */
const LEAST_PARTS = 3;
const LEAST_PART_HEIGHT = 1;
/** How far it must stand over the next peak, as a ratio (measured: heard 1.2 and more; notes like the guide's 1.1). */
const LEAST_LEAD = 1.17;
/** Lags are computed at twice the rate, so that a peak between two samples keeps its height. */
const LAG_HZ = 2 * RATE_HZ;

/** Drifts up to this from the assumed one are searched, ppm (published pairs of devices: 273 ppm). */
const MOST_DRIFT_PPM = 320;
/** The way from the headphones to the microphone is not known better than this, s (10 cm of air). */
const LEAST_ERROR_SEC = 0.0003;

/** Reads a sound at any time and speed, at RATE_HZ, low-passed. */
class SlowReader {
  readonly #sound: Sound;
  readonly #half: number;
  readonly #phases: Float64Array[] = [];
  readonly #raw: Float32Array;

  constructor(sound: Sound) {
    this.#sound = sound;
    const ratio = sound.rateHz / RATE_HZ;
    this.#half = Math.ceil(2.7 * Math.max(1, ratio));
    for (let phase = 0; phase < 32; phase++) this.#phases.push(lowPass(this.#half, phase / 32, ratio));
    this.#raw = new Float32Array(Math.ceil((SEGMENT + 2 * REACH) * ratio * 1.001) + 2 * this.#half + 8);
  }

  /** Fills `target` from `count` samples on: sample n is the sound at fromSec + n * speed / RATE_HZ. */
  read(fromSec: number, speed: number, count: number, target: Float64Array): void {
    const half = this.#half;
    const start = fromSec * this.#sound.rateHz;
    const first = Math.floor(start) - half;
    const step = (this.#sound.rateHz * speed) / RATE_HZ;
    this.#sound.read(first, this.#raw);
    const raw = this.#raw;
    const taps = 2 * half;
    target.fill(0);
    for (let n = 0; n < count; n++) {
      const at = start - first + n * step;
      let whole = Math.floor(at);
      let phase = Math.round((at - whole) * 32);
      if (phase === 32) {
        phase = 0;
        whole++;
      }
      const kernel = this.#phases[phase]!;
      const from = whole - half + 1;
      let sum = 0;
      for (let k = 0; k < taps; k++) sum += kernel[k]! * raw[from + k]!;
      target[n] = sum;
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

interface GuideSegment {
  readonly atSec: number;
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/**
 * The stretches of a guide that can best be heard again in a take: at most 112 of 0.4 s, spread over its length, each
 * transformed once for all takes. Memory: at most 8 MB.
 */
export class GuidePrint {
  readonly segments: readonly GuideSegment[];

  /** energy: the guide's mean squares a tick of tickSec, see Trace. */
  constructor(guide: Sound, energy: Float32Array, tickSec: number) {
    const reader = new SlowReader(guide);
    const fft = new RealFft(SIZE);
    const work = new Float64Array(SIZE);
    this.segments = chooseSegments(energy, tickSec).map((atSec) => {
      reader.read(atSec, 1, SEGMENT, work);
      const re = new Float64Array(SIZE / 2 + 1);
      const im = new Float64Array(SIZE / 2 + 1);
      fft.forward(work, re, im);
      return { atSec, re, im };
    });
  }
}

function chooseSegments(energy: Float32Array, tickSec: number): number[] {
  const ticks = Math.round(SEGMENT_SEC / tickSec);
  const found: { atSec: number; power: number }[] = [];
  for (let from = 0; from < energy.length; from += ticks) {
    let power = 0;
    for (let i = from; i < Math.min(energy.length, from + ticks); i++) power += energy[i]!;
    if (power > 1e-8) found.push({ atSec: from * tickSec, power });
  }
  if (found.length <= MOST_SEGMENTS) return found.map((segment) => segment.atSec);
  // An even spread; the first sixteen always, because there the player still waits.
  const chosen = found.slice(0, 16);
  const step = (found.length - 16) / (MOST_SEGMENTS - 16);
  for (let i = 0; i < MOST_SEGMENTS - 16; i++) chosen.push(found[16 + Math.floor(i * step)]!);
  return chosen.map((segment) => segment.atSec);
}

/** The guide as heard in a take. */
export interface BleedFit {
  /** How much later than assumed it sounds in the take, s, at session time atSec. */
  readonly laterSec: number;
  readonly atSec: number;
  readonly errorSec: number;
  /** Drift over the assumed one, ppm, and its standard error. */
  readonly driftPpm: number;
  readonly driftErrorPpm: number;
  /** Height of the peak in standard deviations of the correlation by chance, less for an unlikely place. */
  readonly height: number;
  readonly heard: boolean;
}

/**
 * Looks for the guide's leakage in a take.
 *
 * Segment by segment the take is correlated with the guide, each spectral line weighed by one over the take's own
 * power there (the optimum weight for a weak signal in coloured noise; Knapp and Carter 1976, IEEE Trans. ASSP 24(4)),
 * so that the player's tones and the hum count little. The correlations are then stacked along every drift, and a
 * peak counts when it stands far out of what chance gives. leadSec: the take's time of session time zero as assumed,
 * good to spreadSec; driftPpm likewise, good to driftSpreadPpm (standard deviations). confirmed: whether the notes of the
 * take are known to fit there; if not, more is asked of the peak. A peak that rests on one part of the take alone, such
 * as one clap on one click, does not count either way.
 */
export function findBleed(
  guide: GuidePrint,
  take: Sound,
  leadSec: number,
  driftPpm: number,
  expected: { readonly spreadSec: number; readonly driftSpreadPpm: number; readonly confirmed: boolean },
): BleedFit | undefined {
  const used = guide.segments.filter((segment) => {
    const at = leadSec + segment.atSec;
    return at > BLEED_REACH_SEC && at + SEGMENT_SEC + BLEED_REACH_SEC < take.lengthFrames / take.rateHz;
  });
  if (used.length < 2) return undefined;
  const rows = correlate(used, take, leadSec, 1 + driftPpm * 1e-6);
  const times = used.map((segment) => segment.atSec + 0.5 * SEGMENT_SEC);
  const peak = stackAlongDrifts(rows, times, LAG_HZ, {
    lag: BLEED_REACH_SEC * LAG_HZ,
    lagSpread: expected.spreadSec * LAG_HZ,
    driftSpreadPpm: expected.driftSpreadPpm,
    mostDriftPpm: MOST_DRIFT_PPM,
  });
  const leastHeight = expected.confirmed ? LEAST_HEIGHT : LEAST_UNCONFIRMED_HEIGHT;
  const parts = peak.partHeights.filter((height) => height >= LEAST_PART_HEIGHT).length;
  const high = peak.weighedHeight >= leastHeight && parts >= LEAST_PARTS;
  // Width of a correlation peak around 1.7 kHz over its height, doubled: the lobes beside it are 0.5 ms away.
  const errorSec = 2 / (2 * Math.PI * 1700 * Math.max(peak.height, 1));
  return {
    laterSec: peak.lag / LAG_HZ - BLEED_REACH_SEC,
    atSec: peak.atSec,
    errorSec: Math.max(errorSec, LEAST_ERROR_SEC),
    driftPpm: peak.driftPpm,
    driftErrorPpm: (errorSec / Math.max(peak.spreadSec, 1)) * 1e6,
    height: peak.weighedHeight,
    heard: high && peak.height >= LEAST_LEAD * peak.rivalHeight,
  };
}

function correlate(used: readonly GuideSegment[], take: Sound, leadSec: number, speed: number): Float64Array[] {
  const reader = new SlowReader(take);
  const fft = new RealFft(SIZE);
  const work = new Float64Array(SIZE);
  const re = new Float64Array(SIZE / 2 + 1);
  const im = new Float64Array(SIZE / 2 + 1);
  const power = new Float64Array(SIZE / 2 + 1);
  const lowLine = Math.ceil((LOW_HZ / RATE_HZ) * SIZE);
  const highLine = Math.floor((HIGH_HZ / RATE_HZ) * SIZE);
  const span = SEGMENT + 2 * REACH;
  const fine = new RealFft(2 * SIZE);
  const fineRe = new Float64Array(SIZE + 1);
  const fineIm = new Float64Array(SIZE + 1);
  const lags = new Float64Array(2 * SIZE);
  return used.map((segment) => {
    reader.read(leadSec + segment.atSec * speed - BLEED_REACH_SEC, speed, span, work);
    fadeEnds(work, span);
    fft.forward(work, re, im);
    smoothPower(re, im, power);
    for (let k = lowLine; k <= highLine; k++) {
      const weight = 1 / (power[k]! + 1e-12);
      fineRe[k] = weight * (re[k]! * segment.re[k]! + im[k]! * segment.im[k]!);
      fineIm[k] = weight * (im[k]! * segment.re[k]! - re[k]! * segment.im[k]!);
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
  const at = (k: number): number => (k < 0 || k >= count ? 0 : re[k]! * re[k]! + im[k]! * im[k]!);
  for (let k = -6; k < 6; k++) sum += at(k);
  for (let k = 0; k < count; k++) {
    sum += at(k + 6);
    power[k] = Math.max(sum, 0) / 13;
    sum -= at(k - 6);
  }
}
