import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';

/** Rate at which bleed is looked for, Hz. Headphones leak mostly between some hundred hertz and 4 kHz. */
const RATE_HZ = 8000;
const SEGMENT_SEC = 0.384;
/** Lags looked at on either side of the assumed placement, s. */
export const BLEED_REACH_SEC = 0.064;
const SIZE = 4096;
const SEGMENT = SEGMENT_SEC * RATE_HZ;
const REACH = BLEED_REACH_SEC * RATE_HZ;
const LOW_HZ = 800;
const HIGH_HZ = 3700;
const MOST_SEGMENTS = 128;
/** Height the peak must have. Measured on takes without bleed: never above 4.6 over all lags and drifts. */
const LEAST_HEIGHT = 5.2;

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
 * The stretches of a guide that can best be heard again in a take: at most 128 of 0.4 s, spread over its length, each
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
  /** Height of the peak in standard deviations of the correlation by chance. */
  readonly height: number;
  readonly heard: boolean;
}

/**
 * Looks for the guide's leakage in a take.
 *
 * Segment by segment the take is correlated with the guide, each spectral line weighed by one over the take's own
 * power there (the optimum weight for a weak signal in coloured noise; Knapp and Carter 1976, IEEE Trans. ASSP 24(4)),
 * so that the player's tones and the hum count little. The correlations are then stacked along every drift, and a
 * peak counts when it stands far out of what chance gives. leadSec: the take's time of session time zero as assumed;
 * driftSpreadPpm: how far the drift may be from driftPpm.
 */
export function findBleed(
  guide: GuidePrint,
  take: Sound,
  leadSec: number,
  driftPpm: number,
  driftSpreadPpm: number,
): BleedFit | undefined {
  const used = guide.segments.filter((segment) => {
    const at = leadSec + segment.atSec;
    return at > BLEED_REACH_SEC && at + SEGMENT_SEC + BLEED_REACH_SEC < take.lengthFrames / take.rateHz;
  });
  if (used.length < 2) return undefined;
  const width = 2 * REACH;
  const rows = correlate(used, take, leadSec, 1 + driftPpm * 1e-6, width);
  return stack(rows, used, width, driftSpreadPpm);
}

function correlate(
  used: readonly GuideSegment[],
  take: Sound,
  leadSec: number,
  speed: number,
  width: number,
): Float64Array[] {
  const reader = new SlowReader(take);
  const fft = new RealFft(SIZE);
  const work = new Float64Array(SIZE);
  const re = new Float64Array(SIZE / 2 + 1);
  const im = new Float64Array(SIZE / 2 + 1);
  const power = new Float64Array(SIZE / 2 + 1);
  const lowLine = Math.ceil((LOW_HZ / RATE_HZ) * SIZE);
  const highLine = Math.floor((HIGH_HZ / RATE_HZ) * SIZE);
  const span = SEGMENT + 2 * REACH;
  return used.map((segment) => {
    reader.read(leadSec + segment.atSec * speed - BLEED_REACH_SEC, speed, span, work);
    fadeEnds(work, span);
    fft.forward(work, re, im);
    smoothPower(re, im, power);
    for (let k = 0; k < re.length; k++) {
      if (k < lowLine || k > highLine) {
        re[k] = 0;
        im[k] = 0;
        continue;
      }
      const weight = 1 / (power[k]! + 1e-12);
      const r = re[k]! * segment.re[k]! + im[k]! * segment.im[k]!;
      const i = im[k]! * segment.re[k]! - re[k]! * segment.im[k]!;
      re[k] = r * weight;
      im[k] = i * weight;
    }
    fft.inverse(re, im, work);
    return work.slice(0, width);
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

function stack(
  rows: readonly Float64Array[],
  used: readonly GuideSegment[],
  width: number,
  spreadPpm: number,
): BleedFit {
  const variances = rows.map((row) => row.reduce((sum, value) => sum + value * value, 0) / width);
  let total = 0;
  let atSec = 0;
  for (let i = 0; i < used.length; i++) {
    total += variances[i]!;
    atSec += variances[i]! * used[i]!.atSec;
  }
  atSec /= total;
  const lengthSec = Math.max(1, used.at(-1)!.atSec - used[0]!.atSec);
  const stepPpm = Math.min(20, (0.00012 / lengthSec) * 1e6);
  const scale = 1 / Math.sqrt(total);
  const steps = Math.ceil(spreadPpm / stepPpm);
  const line = new Float64Array(width);
  let best = { height: 0, lag: 0, ppm: 0 };
  const search = (fromPpm: number, toPpm: number, byPpm: number): void => {
    for (let ppm = fromPpm; ppm <= toPpm + 1e-9; ppm += byPpm) {
      stackAlong(rows, used, atSec, ppm, line);
      for (let lag = 1; lag + 1 < width; lag++) {
        if (line[lag]! * scale > best.height) best = { height: line[lag]! * scale, lag, ppm };
      }
    }
  };
  search(-steps * stepPpm, steps * stepPpm, stepPpm);
  search(best.ppm - stepPpm, best.ppm + stepPpm, stepPpm / 8);
  stackAlong(rows, used, atSec, best.ppm, line);
  const left = line[best.lag - 1] ?? 0;
  const middle = line[best.lag] ?? 0;
  const right = line[best.lag + 1] ?? 0;
  const bend = left - 2 * middle + right;
  const inside = bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (left - right)) / bend)) : 0;
  let stt = 0;
  for (let i = 0; i < used.length; i++) stt += variances[i]! * (used[i]!.atSec - atSec) ** 2;
  const spreadSec = Math.sqrt(stt / total);
  // Width of a correlation peak around 1.7 kHz over its height, doubled: the lobes beside it are 0.5 ms away.
  const errorSec = 2 / (2 * Math.PI * 1700 * Math.max(best.height, 1));
  return {
    laterSec: (best.lag + inside) / RATE_HZ - BLEED_REACH_SEC,
    atSec,
    errorSec: Math.max(errorSec, LEAST_ERROR_SEC),
    driftPpm: best.ppm,
    driftErrorPpm: (errorSec / Math.max(spreadSec, 1)) * 1e6,
    height: best.height,
    heard: best.height >= LEAST_HEIGHT,
  };
}

/** Sums the rows along a drift, with linear interpolation between lags. */
function stackAlong(
  rows: readonly Float64Array[],
  used: readonly GuideSegment[],
  atSec: number,
  ppm: number,
  line: Float64Array,
): void {
  const width = line.length;
  line.fill(0);
  for (let i = 0; i < rows.length; i++) {
    const row = rows[i]!;
    const shift = (used[i]!.atSec + 0.5 * SEGMENT_SEC - atSec) * ppm * 1e-6 * RATE_HZ;
    const whole = Math.floor(shift);
    const part = shift - whole;
    const from = Math.max(0, -whole);
    const to = Math.min(width, width - 1 - whole);
    for (let lag = from; lag < to; lag++) line[lag]! += (1 - part) * row[lag + whole]! + part * row[lag + whole + 1]!;
  }
}
