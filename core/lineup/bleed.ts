import type { Sound } from '../signal/sound.ts';
import {
  BLEED_REACH_SEC,
  correlateRows,
  type GuideSegment,
  guideSegments,
  LAG_HZ,
  type RowShape,
  SEGMENT,
} from './bleed-rows.ts';
import { stackAlongDrifts } from './drift-stack.ts';

const MOST_SEGMENTS = 112;
/** Segments by which bleed that was found is followed. */
const MOST_DENSE = 280;
/** Height the peak must have near a place that the notes confirm. Measured on 406 trials without bleed: never above 4.7. */
const LEAST_HEIGHT = 4.8;
/** The same where only a clap says where to look: more lags are likely then (measured on 238 wrong guides: up to 5.2). */
const LEAST_UNCONFIRMED_HEIGHT = 6.2;
/** Of four parts of the take so many must show the guide by themselves, each at least so high. */
const LEAST_PARTS = 3;
const LEAST_PART_HEIGHT = 1;
/** How far it must stand over the next peak, as a ratio (measured: heard 1.2 and more; notes like the guide's 1.1). */
const LEAST_LEAD = 1.17;

/** Drifts up to this from the assumed one are searched, ppm (published pairs of devices: 273 ppm). */
const MOST_DRIFT_PPM = 320;
/** In a half, where a clock may jump as well. */
const MOST_HALF_DRIFT_PPM = 120;
/** The way from the headphones to the microphone is not known better than this, s (10 cm of air). */
const LEAST_ERROR_SEC = 0.0003;

/**
 * The stretches of a guide that can best be heard again in a take: at most 112 of 0.4 s, spread over its length, each
 * transformed once for all takes; and once bleed was found in one, at most 280. Memory: at most 5 MB.
 */
export class GuidePrint {
  readonly segments: readonly GuideSegment[];
  readonly #guide: Sound;
  readonly #sounding: readonly number[];
  #dense: readonly GuideSegment[] | undefined;

  /** energy: the guide's mean squares a tick of tickSec, see Trace. */
  constructor(guide: Sound, energy: Float32Array, tickSec: number) {
    this.#guide = guide;
    this.#sounding = soundingSegments(energy, tickSec);
    this.segments = guideSegments(guide, chooseSegments(this.#sounding), SEGMENT);
  }

  /** More of them, evenly spread. */
  get dense(): readonly GuideSegment[] {
    this.#dense ??= guideSegments(this.#guide, evenly(this.#sounding, MOST_DENSE), SEGMENT);
    return this.#dense;
  }

  /** Stretches of any length that begin at timesSec. */
  cut(timesSec: readonly number[], shape: RowShape): GuideSegment[] {
    return guideSegments(this.#guide, timesSec, shape);
  }
}

function soundingSegments(energy: Float32Array, tickSec: number): number[] {
  const ticks = Math.round(SEGMENT.segmentSec / tickSec);
  const found: number[] = [];
  for (let from = 0; from < energy.length; from += ticks) {
    let power = 0;
    for (let i = from; i < Math.min(energy.length, from + ticks); i++) power += energy[i]!;
    if (power > 1e-8) found.push(from * tickSec);
  }
  return found;
}

/** An even spread; the first sixteen always, because there the player still waits. */
function chooseSegments(found: readonly number[]): number[] {
  if (found.length <= MOST_SEGMENTS) return [...found];
  return [...found.slice(0, 16), ...evenly(found.slice(16), MOST_SEGMENTS - 16)];
}

function evenly(found: readonly number[], most: number): number[] {
  if (found.length <= most) return [...found];
  return Array.from({ length: most }, (_, i) => found[Math.floor((i * found.length) / most)]!);
}

/** Where bleed is expected: standard deviations, and whether the notes of the take are known to fit there. */
export interface ExpectedBleed {
  readonly spreadSec: number;
  readonly driftSpreadPpm: number;
  readonly confirmed: boolean;
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
  /** Height of the peak itself, and the stretches of the guide it rests on. */
  readonly peakHeight: number;
  readonly stretches: number;
}

/**
 * Looks for the guide's leakage in a take.
 *
 * Segment by segment the take is correlated with the guide (see `correlateRows`). The correlations are then stacked along every drift, and a
 * peak counts when it stands far out of what chance gives. leadSec: the take's time of session time zero as assumed,
 * good to spreadSec; driftPpm likewise, good to driftSpreadPpm (standard deviations). confirmed: whether the notes of the
 * take are known to fit there; if not, more is asked of the peak. A peak that rests on one part of the take alone, such
 * as one clap on one click, does not count either way. A half may be asked for by itself, since a clock that jumps in the
 * middle has it on one line in a half only.
 */
export function findBleed(
  guide: GuidePrint,
  take: Sound,
  leadSec: number,
  driftPpm: number,
  expected: ExpectedBleed,
): { readonly whole: BleedFit; readonly half: (second: boolean) => BleedFit } | undefined {
  const used = guide.segments.filter((segment) => {
    const at = leadSec + segment.atSec;
    return at > BLEED_REACH_SEC && at + SEGMENT.segmentSec + BLEED_REACH_SEC < take.lengthFrames / take.rateHz;
  });
  if (used.length < 2) return undefined;
  const speed = 1 + driftPpm * 1e-6;
  const rows = correlateRows(used, take, (sec) => leadSec + sec * speed, speed, SEGMENT);
  const times = used.map((segment) => segment.atSec + 0.5 * SEGMENT.segmentSec);
  const middle = rows.length >> 1;
  return {
    whole: bleedIn(rows, times, expected, MOST_DRIFT_PPM),
    half: (second) => {
      const [from, to] = second ? [middle, rows.length] : [0, middle];
      return bleedIn(rows.slice(from, to), times.slice(from, to), expected, MOST_HALF_DRIFT_PPM);
    },
  };
}

function bleedIn(
  rows: readonly Float64Array[],
  times: readonly number[],
  expected: ExpectedBleed,
  mostDriftPpm: number,
): BleedFit {
  const peak = stackAlongDrifts(rows, times, LAG_HZ, {
    lag: BLEED_REACH_SEC * LAG_HZ,
    lagSpread: expected.spreadSec * LAG_HZ,
    driftSpreadPpm: expected.driftSpreadPpm,
    mostDriftPpm,
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
    peakHeight: peak.height,
    stretches: rows.length,
    heard: high && peak.height >= LEAST_LEAD * peak.rivalHeight,
  };
}
