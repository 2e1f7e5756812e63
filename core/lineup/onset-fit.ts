import { FRAME_SEC, LINES, type Rises } from './trace.ts';

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

const REACH = 6;
/** Length of a stretch, reference time, s. */
export const STRETCH_SEC = 4;
/** Rows of the reference kept: those within reach, and some. */
const ROWS = 16;

/**
 * Compares note beginnings line by line at lags within 160 ms of an assumed placement, in stretches of 4 s of the
 * reference, and draws a line through their lags (Huber weights), so that both the lateness and its growth come with
 * standard errors. The take's time of reference
 * time s is assumed to be leadSec + (1 + driftPpm / 1e6) s. `broad` compares only how much begins, not on which line.
 */
export function fitOnsets(
  reference: Rises,
  take: Rises,
  leadSec: number,
  driftPpm: number,
  broad: boolean,
  fromSec = 0,
  toSec = Number.POSITIVE_INFINITY,
): OnsetFit | undefined {
  const speed = 1 + driftPpm * 1e-6;
  const referenceFrames = reference.frames;
  const count = Math.ceil((referenceFrames * FRAME_SEC) / STRETCH_SEC);
  const width = 2 * REACH + 1;
  const table = new Float64Array(count * width);
  const shift = new Float64Array(count);
  const entries = new Float64Array(count);
  const sums = broad ? broadSums(reference) : undefined;
  const rows = new RiseRows(reference);
  // What is done for a frame is a function of its own, since this one is called too seldom to be compiled well.
  const add = (frame: number): void => {
    const exact = (frame * FRAME_SEC - leadSec) / speed / FRAME_SEC;
    const base = Math.round(exact);
    const atSec = base * FRAME_SEC;
    if (base < REACH || base + REACH >= referenceFrames || atSec < fromSec || atSec > toSec) return;
    const row = Math.floor(atSec / STRETCH_SEC);
    const from = take.riseFrom[frame]!;
    const to = take.riseFrom[frame + 1]!;
    if (to === from) return;
    shift[row]! += (exact - base) * (to - from);
    entries[row]! += to - from;
    if (sums) addBroad(table, row * width, sums, base, take, from, to);
    else addLines(table, row * width, rows, base, take, from, to);
  };
  for (let frame = 0; frame < take.frames; frame++) add(frame);
  for (let row = 0; row < count; row++) {
    if (entries[row]! > 0) shift[row]! /= entries[row]!;
  }
  return fitLine(table, shift, count, width);
}

/** Frames of a reference as rows of LINES numbers, the last ones that were asked for. */
class RiseRows {
  readonly table = new Float32Array(ROWS * LINES);
  readonly #held = new Int32Array(ROWS).fill(-1);
  readonly #rises: Rises;

  constructor(rises: Rises) {
    this.#rises = rises;
  }

  /** Where the row of a frame begins in the table; good until ROWS other frames were asked for. */
  at(frame: number): number {
    const slot = frame % ROWS;
    const from = slot * LINES;
    if (this.#held[slot] === frame) return from;
    const { riseFrom, riseLine, riseBy } = this.#rises;
    this.table.fill(0, from, from + LINES);
    for (let i = riseFrom[frame]!; i < riseFrom[frame + 1]!; i++) this.table[from + riseLine[i]!] = riseBy[i]!;
    this.#held[slot] = frame;
    return from;
  }
}

function addLines(
  table: Float64Array,
  to: number,
  rows: RiseRows,
  base: number,
  take: Rises,
  first: number,
  last: number,
): void {
  for (let lag = 0; lag <= 2 * REACH; lag++) {
    // Later in the take means that the reference's matching rise lies earlier.
    const row = rows.at(base + REACH - lag);
    let sum = table[to + lag]!;
    for (let i = first; i < last; i++) sum += take.riseBy[i]! * rows.table[row + take.riseLine[i]!]!;
    table[to + lag] = sum;
  }
}

/** Sums of a reference are asked for again and again, place by place and take by take. */
const sumsOf = new WeakMap<Rises, Float64Array>();

function broadSums(reference: Rises): Float64Array {
  const known = sumsOf.get(reference) ?? sumBroadly(reference);
  sumsOf.set(reference, known);
  return known;
}

/** Root of what begins in each frame, all lines together. */
function sumBroadly({ frames, riseFrom, riseBy }: Rises): Float64Array {
  const sums = new Float64Array(frames);
  for (let frame = 0; frame < frames; frame++) {
    let sum = 0;
    for (let i = riseFrom[frame]!; i < riseFrom[frame + 1]!; i++) sum += riseBy[i]!;
    sums[frame] = Math.sqrt(sum);
  }
  return sums;
}

function addBroad(
  table: Float64Array,
  to: number,
  sums: Float64Array,
  base: number,
  take: Rises,
  first: number,
  last: number,
): void {
  let sum = 0;
  for (let i = first; i < last; i++) sum += take.riseBy[i]!;
  const by = Math.sqrt(sum);
  for (let lag = 0; lag <= 2 * REACH; lag++) table[to + lag]! += by * sums[base + REACH - lag]!;
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
