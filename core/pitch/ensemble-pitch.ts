import { hzOf, medianOf, spreadOf } from './pitch-span.ts';
import { type Estimate, honestDeviation, type PitchTrend, pitchTrend, scaled } from './pitch-trend.ts';
import { weightedMedian } from './robust-line.ts';
import type { TunedNote, TunedVoice } from './tuned-note.ts';

export interface Reference {
  /** A4 the ensemble plays by, and one standard deviation in cents. */
  readonly hz: number;
  readonly uncertaintyCents: number;
  /** Of it above A4 = 440 Hz. */
  readonly cents: number;
  /** What notes are held against: the ensemble's own, or a given one. */
  readonly usedHz: number;
  readonly given: boolean;
}

/** How the pitch of all moves together over the piece: what more than half of the voices do. */
export interface PitchDrift {
  readonly fromSec: number;
  readonly toSec: number;
  /** End less beginning of a straight line, and half of what the truth lies within in 95 of 100 cases. */
  readonly totalCents: number;
  readonly uncertaintyCents: number;
  readonly centsPerMinute: number;
  /** Pitch in stretches of some 10 s, cents above the reference. */
  readonly points: readonly { readonly sec: number; readonly cents: number }[];
}

/** A voice's own middle above the temperament at A4 = 440 Hz, cents, and how it moves; trend undefined for few notes. */
export interface VoiceCentre {
  readonly cents: number;
  readonly estimate: Estimate;
  /** Robust standard deviation of its notes about it. */
  readonly spread: number;
  readonly trend: PitchTrend | undefined;
}

/** A voice of fewer notes than this does not shape the reference, where others have more. */
const FEWEST_NOTES = 4;
/** Voices that agree on nothing still do not make the reference surer than this, cents. */
const LEAST_UNCERTAINTY = 0.3;
const POINT_SEC = 10;

export function middleSecOf(note: TunedNote): number {
  return 0.5 * (note.fromSec + note.toSec);
}

/** Median of a voice's distances from the temperament, weighted by length; undefined without notes. */
export function voiceCentre(notes: readonly TunedNote[]): VoiceCentre | undefined {
  if (notes.length === 0) return undefined;
  const { offs, cents, spread } = plainCentre(notes);
  const own = notes.reduce((sum, note) => sum + note.uncertaintyCents, 0) / notes.length;
  const trend = pitchTrend(notes.map((note, n) => ({ sec: middleSecOf(note), key: note.key, cents: offs[n]! })));
  const plain = Math.hypot(1.2533 * spread, own) / Math.sqrt(notes.length);
  // With many notes their keys and stretches tell how far the middle can be trusted.
  const estimate =
    trend === undefined
      ? { value: cents, uncertainty: plain, freedom: notes.length - 1 }
      : { value: cents, uncertainty: Math.max(plain, trend.centre.uncertainty), freedom: trend.centre.freedom };
  return { cents, estimate, spread, trend };
}

/** A voice's middle alone, and the robust standard deviation of its notes about it; both NaN without notes. */
export function plainCentre(notes: readonly TunedNote[]): { offs: number[]; cents: number; spread: number } {
  const offs = notes.map((note) => note.cents - note.targetCents);
  const weights = notes.map((note) => note.toSec - note.fromSec);
  const cents = weightedMedian(offs, weights);
  const distances = offs.map((off) => Math.abs(off - cents));
  return { offs, cents, spread: 1.4826 * weightedMedian(distances, weights) };
}

/**
 * The A that voices play by: the middle (median; of two the mean) of their own centres, so that one voice that is off does not
 * move it, and no voice counts more for having more notes. At least one centre has to be known.
 */
export function referenceOf(
  centres: readonly (VoiceCentre | undefined)[],
  counts: readonly number[],
  referenceHz: number | null,
): Reference {
  const all = centres.filter((centre) => centre !== undefined);
  const rich = centres.filter((centre, n) => centre !== undefined && counts[n]! >= FEWEST_NOTES);
  const known = (rich.length > 0 ? rich : all) as readonly VoiceCentre[];
  const cents = medianOf(known.map((centre) => centre.cents));
  const squares = known.reduce((sum, { estimate }) => sum + estimate.uncertainty ** 2, 0);
  // The median of more than two is less sure than their mean.
  const loss = known.length > 2 ? 1.2533 : 1;
  const usedCents = referenceHz === null ? cents : 1200 * Math.log2(referenceHz / 440);
  return {
    hz: hzOf(cents),
    uncertaintyCents: Math.max(LEAST_UNCERTAINTY, (loss * Math.sqrt(squares)) / known.length),
    cents,
    usedHz: hzOf(usedCents),
    given: referenceHz !== null,
  };
}

/**
 * How the pitch of all moves together: what more than half of the voices have in common, from each one's own trend over time, so that one
 * voice that sinks is not taken for all of them. baseCents: the reference above the one in use. Null where no voice has enough notes.
 */
export function ensembleDrift(
  voices: readonly TunedVoice[],
  centres: readonly (VoiceCentre | undefined)[],
  baseCents: number,
): PitchDrift | null {
  const moving = voices.flatMap(({ notes }, n) => {
    const trend = centres[n]?.trend;
    return trend === undefined || !Number.isFinite(trend.perSec.uncertainty) ? [] : [{ notes, trend }];
  });
  if (moving.length === 0) return null;
  const times = moving.flatMap(({ notes }) => notes.map(middleSecOf));
  const fromSec = times.reduce((least, sec) => Math.min(least, sec), Number.POSITIVE_INFINITY);
  const toSec = times.reduce((most, sec) => Math.max(most, sec), Number.NEGATIVE_INFINITY);
  const totals = moving.map(({ trend }) => scaled(trend.perSec, toSec - fromSec));
  const totalCents = shared(totals);
  const squares = totals.reduce((sum, total) => sum + honestDeviation(total) ** 2, 0);
  // Voices that move each in its own way tell less of what they have in common.
  const between = spreadOf(
    totals.map(({ value }) => value),
    totalCents,
  );
  const loss = moving.length > 2 ? 1.2533 : 1;
  const uncertaintyCents = loss * Math.max(Math.sqrt(squares) / moving.length, between / Math.sqrt(moving.length));
  const count = Math.max(1, Math.round((toSec - fromSec) / POINT_SEC));
  const width = (toSec - fromSec) / count;
  const levels = Array.from({ length: count }, (): number[] => []);
  for (const { notes, trend } of moving) {
    const inside = Array.from({ length: count }, (): number[] => []);
    for (const note of notes) {
      const at = Math.min(count - 1, Math.floor((middleSecOf(note) - fromSec) / Math.max(1e-9, width)));
      inside[at]!.push(aboveHeight(note, trend) - trend.centre.value);
    }
    for (const [n, offs] of inside.entries()) if (offs.length > 0) levels[n]!.push(medianOf(offs));
  }
  const points = levels.map((offs, n) => ({ sec: fromSec + (n + 0.5) * width, cents: baseCents + medianOf(offs) }));
  return {
    fromSec,
    toSec,
    totalCents,
    uncertaintyCents,
    centsPerMinute: (60 * totalCents) / Math.max(1e-6, toSec - fromSec),
    points: points.filter((point) => !Number.isNaN(point.cents)),
  };
}

/** Off the temperament, without what the height of the note makes of it. */
export function aboveHeight(note: TunedNote, trend: PitchTrend): number {
  return note.cents - note.targetCents - trend.perKey.value * (note.key - trend.middleKey);
}

/** What more than half of the figures have in common: their median; where the middle two surely differ, the one nearer to none, or none. */
function shared(totals: readonly Estimate[]): number {
  const sorted = [...totals].sort((one, other) => one.value - other.value);
  const middle = sorted.length >> 1;
  const upper = sorted[middle]!;
  if (sorted.length % 2 === 1) return upper.value;
  const lower = sorted[middle - 1]!;
  const alike = upper.value - lower.value <= 2 * Math.hypot(upper.uncertainty, lower.uncertainty);
  if (alike) return 0.5 * (upper.value + lower.value);
  if (upper.value * lower.value < 0) return 0;
  return Math.abs(upper.value) < Math.abs(lower.value) ? upper.value : lower.value;
}
