import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { addOnsets, type Compared, type OnsetSums, REACH, STRETCH_SEC } from './onset-sums.ts';
import { FRAME_SEC, type Rises } from './trace.ts';

/** How late one stretch is. */
export interface StretchLag {
  /** Its middle, reference time, s. */
  readonly atSec: number;
  readonly laterSec: number;
  readonly weight: number;
}

/** How a take's note beginnings lie against a reference's, finely. */
export interface OnsetFit {
  /** How much later than assumed the take's notes sound, s, at `atSec`. */
  readonly laterSec: number;
  /** Reference time of the middle of the compared music, s. */
  readonly atSec: number;
  /** Standard error of laterSec from the scatter of the stretches, s. */
  readonly errorSec: number;
  /** How much the lateness grows with time, ppm, and its standard error. */
  readonly slopePpm: number;
  readonly slopeErrorPpm: number;
  /** Height of the correlation's peak over its surroundings, as a ratio; 1 is nothing. */
  readonly contrast: number;
  /** Stretches that were used. */
  readonly stretches: number;
  /** What each of them says, in order of time, against the assumed placement. */
  readonly along: readonly StretchLag[];
}

/**
 * Compares note beginnings line by line at lags within 160 ms of an assumed placement, in stretches of 4 s of the
 * reference, and draws a line through their lags (Huber weights), so that both the lateness and its growth come with
 * standard errors. The take's time of reference
 * time s is assumed to be leadSec + (1 + driftPpm / 1e6) s. `broad` compares only how much begins, not on which line. kernel: null for plain
 * TypeScript, which gives the same to the last bit.
 */
export function fitOnsets(
  reference: Rises,
  take: Rises,
  leadSec: number,
  driftPpm: number,
  broad: boolean,
  fromSec = 0,
  toSec = Number.POSITIVE_INFINITY,
  kernel: BleedKernel | null = bleedKernel(),
): OnsetFit | undefined {
  const count = Math.ceil((reference.frames * FRAME_SEC) / STRETCH_SEC);
  const width = 2 * REACH + 1;
  const sums: OnsetSums = {
    table: new Float64Array(count * width),
    shift: new Float64Array(count),
    entries: new Float64Array(count),
  };
  const compared: Compared = { reference, take, leadSec, speed: 1 + driftPpm * 1e-6, broad, fromSec, toSec };
  addOnsets(compared, sums, kernel);
  const { table, shift, entries } = sums;
  for (let row = 0; row < count; row++) {
    if (entries[row]! > 0) shift[row]! /= entries[row]!;
  }
  return fitLine(table, shift, count, width);
}

function fitLine(table: Float64Array, shift: Float64Array, count: number, width: number): OnsetFit | undefined {
  const total = new Float64Array(width);
  for (let row = 0; row < count; row++) {
    // Rows differ only in their fraction of a frame; for the first look it does not matter.
    for (let lag = 0; lag < width; lag++) total[lag]! += table[row * width + lag]!;
  }
  const best = peakOf(total, 0, width, 1, width - 2);
  if (!best) return undefined;
  const times: number[] = [];
  const lags: number[] = [];
  const weights: number[] = [];
  for (let row = 0; row < count; row++) {
    const near = Math.round(best.at);
    const peak = peakOf(table, row * width, width, Math.max(1, near - 3), Math.min(width - 2, near + 3));
    if (!peak || peak.height <= 0) continue;
    times.push((row + 0.5) * STRETCH_SEC);
    lags.push((peak.at - REACH + shift[row]!) * FRAME_SEC);
    weights.push(peak.height);
  }
  const line = robustLine(times, lags, weights);
  if (!line) return undefined;
  const along = times.map((atSec, i) => ({ atSec, laterSec: lags[i]!, weight: weights[i]! }));
  return { ...line, contrast: best.contrast, stretches: times.length, along };
}

interface Peak {
  readonly at: number;
  readonly height: number;
  readonly contrast: number;
}

function peakOf(values: Float64Array, offset: number, width: number, from: number, to: number): Peak | undefined {
  let best = from;
  for (let i = from; i <= to; i++) if (values[offset + i]! > values[offset + best]!) best = i;
  const sorted = values.slice(offset, offset + width).sort();
  const median = sorted[width >> 1]!;
  const left = values[offset + best - 1]!;
  const middle = values[offset + best]!;
  const right = values[offset + best + 1]!;
  const bend = left - 2 * middle + right;
  if (middle <= median || bend >= 0) return undefined;
  const offsetInside = Math.max(-0.6, Math.min(0.6, (0.5 * (left - right)) / bend));
  return { at: best + offsetInside, height: middle - median, contrast: middle / Math.max(median, 1e-9) };
}

/** A straight line by weighted least squares with Huber's weights; undefined from fewer than two points. */
export function robustLine(
  times: readonly number[],
  values: readonly number[],
  weights: readonly number[],
): Omit<OnsetFit, 'contrast' | 'stretches' | 'along'> | undefined {
  const count = times.length;
  if (count < 2) return undefined;
  const trust = new Float64Array(count).fill(1);
  const apart = new Float64Array(count);
  let atSec = 0;
  let level = 0;
  let slope = 0;
  let errorSec = Number.POSITIVE_INFINITY;
  let slopeError = Number.POSITIVE_INFINITY;
  for (let pass = 0; pass < 8; pass++) {
    let w = 0;
    let wt = 0;
    let wv = 0;
    for (let i = 0; i < count; i++) {
      const weight = weights[i]! * trust[i]!;
      w += weight;
      wt += weight * times[i]!;
      wv += weight * values[i]!;
    }
    atSec = wt / w;
    level = wv / w;
    let stt = 0;
    let stv = 0;
    for (let i = 0; i < count; i++) {
      const weight = weights[i]! * trust[i]!;
      stt += weight * (times[i]! - atSec) ** 2;
      stv += weight * (times[i]! - atSec) * values[i]!;
    }
    slope = stt > 0 ? stv / stt : 0;
    for (let i = 0; i < count; i++) apart[i] = Math.abs(values[i]! - level - slope * (times[i]! - atSec));
    const scale = Math.max(0.002, 1.4826 * apart.slice().sort()[count >> 1]!);
    let rss = 0;
    let w2 = 0;
    for (let i = 0; i < count; i++) {
      const weight = weights[i]! * trust[i]!;
      rss += weight * apart[i]! ** 2;
      w2 += weight * weight;
    }
    // Neighbouring stretches share the player's mood, so half of them count as independent.
    const effective = Math.max(1, (0.5 * (w * w)) / w2);
    const variance = Math.max((rss / w) * (count / Math.max(1, count - 2)), scale * scale * 0.25);
    errorSec = Math.sqrt(variance / effective);
    slopeError = stt > 0 ? Math.sqrt(variance / effective / (stt / w)) : Number.POSITIVE_INFINITY;
    for (let i = 0; i < count; i++) trust[i] = Math.min(1, (1.5 * scale) / Math.max(apart[i]!, 1e-9));
  }
  return { laterSec: level, atSec, errorSec, slopePpm: slope * 1e6, slopeErrorPpm: slopeError * 1e6 };
}
