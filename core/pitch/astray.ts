import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { ExpectedNote } from './expected-note.ts';
import { LatenessSearch, type LatePath, type PlacedNote } from './lateness-search.ts';

/** A stretch of a part that was played at another time than where it is written, or was not played. */
export interface AstrayStretch {
  /** Session time at which its first note is written, and at which its last one ends, s. */
  readonly fromSec: number;
  readonly toSec: number;
  /** Bars of its first and last note; null where there are no bars. */
  readonly bars: readonly [number, number] | null;
  /** How much later it was played, s; below 0 earlier; null where most of its notes are not heard at all. */
  readonly lateSec: number | null;
  /** How much of the part's notes it holds, 0 to 1. */
  readonly share: number;
}

/** What is less late is loose, not astray, s: timing's own limit (see timing.ts). */
const LEAST_LATE_SEC = 0.4;
/** A stretch is told from so many notes and seconds on, where it fits so well there, and so much better than where it is written. */
const LEAST_NOTES = 6;
const LEAST_SEC = 3;
const MOST_COST = 0.45;
const LEAST_BETTER = 0.3;
/**
 * A note of which so much is missing is not heard; so many, and three of four, are a stretch that was left out. Before and after it so
 * many notes have to be heard: a take that ends too soon is short.
 */
const MISSING_COST = 0.9;
const MISSING_NOTES = 8;
const HEARD_COST = 2;
const NOTES_AROUND = 4;
/** Neighbours whose lateness differs by less are one stretch, s. */
const ALIKE_SEC = 0.3;
/** A part of which less was played, in all, is another one. */
const MOST_PART_COST = 0.5;
/** Nor is another octave looked at where one fits so well. */
const SURE_PART_COST = 0.3;
/** Octaves a part may sound above what is written, half tones. */
const OCTAVES = [0, -12, 12, -24, 24];

/**
 * Stretches of a take that lie late or early against the guide by more than looseness, as after a wrong entry. For each written note
 * and each lateness: how much of it is heard there, and whether it begins there; then the path of least cost through the latenesses
 * (Viterbi 1967), which changes seldom. heard: in time order. parts: the written ones, times of the session's clock; the part and
 * octave that fit best are taken, with what it costs to lie elsewhere: where two parts are alike but for their time, as in a canon, this
 * tells them apart. Empty where no part fits. Our own rule, no source. Cost: some 160 latenesses a note and octave.
 */
export function astrayStretches(
  heard: readonly PlacedNote[],
  parts: readonly (readonly ExpectedNote[])[],
  cancel?: Cancel,
): AstrayStretch[] {
  const best = likeliestPath(heard, parts, cancel);
  if (best === undefined || best.path.cost > MOST_PART_COST * best.notes.length) return [];
  const { path, notes } = best;
  return [...lateOnes(path, notes), ...leftOut(path, notes)].sort((one, other) => one.fromSec - other.fromSec);
}

/** The part and octave that fit best, and how it lies. What surely fits worse is left before its end. */
export function likeliestPath(
  heard: readonly PlacedNote[],
  parts: readonly (readonly ExpectedNote[])[],
  cancel?: Cancel,
): { readonly path: LatePath; readonly notes: readonly ExpectedNote[] } | undefined {
  const search = new LatenessSearch(heard, Math.max(0, ...parts.map((notes) => notes.length)));
  const long = parts.filter((notes) => notes.length >= LEAST_NOTES);
  const bound = likelyCost(search, long);
  let best: { path: LatePath; noteCost: number; notes: readonly ExpectedNote[] } | undefined;
  for (const notes of long) {
    search.lookFor(notes);
    const left: number[] = [];
    for (const octave of OCTAVES) {
      throwIfCancelled(cancel);
      const found = search.run(100 * octave, best?.noteCost ?? Number.POSITIVE_INFINITY, bound);
      if (found === undefined) {
        left.push(octave);
        continue;
      }
      // Seldom: only now does it matter whether one that was left would have been the last.
      if (left.some((before) => isSure(search, before))) break;
      best = { path: search.pathAt(100 * octave), noteCost: found.noteCost, notes };
      if (found.cost < SURE_PART_COST * notes.length) break;
    }
  }
  return best;
}

/** What the part costs, a note, that is most of all played where it is written: the one that fits best costs no more. */
function likelyCost(search: LatenessSearch, parts: readonly (readonly ExpectedNote[])[]): number {
  let likely: readonly ExpectedNote[] | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const notes of parts) {
    search.lookFor(notes);
    const cost = search.homeCost() / notes.length;
    if (cost < least) [likely, least] = [notes, cost];
  }
  if (likely === undefined) return Number.POSITIVE_INFINITY;
  search.lookFor(likely);
  return search.run(0)!.noteCost;
}

/** Whether a part fits so well in an octave that was left before its end that no other one is looked at. */
function isSure(search: LatenessSearch, octave: number): boolean {
  const { cost, count } = search.run(100 * octave)!;
  return cost < SURE_PART_COST * count;
}

function lateOnes({ lateSec, costs, homeCosts }: LatePath, notes: readonly ExpectedNote[]): AstrayStretch[] {
  const found: AstrayStretch[] = [];
  for (let from = 0; from < notes.length; ) {
    const late = lateSec[from]!;
    let to = from + 1;
    while (to < notes.length && Math.abs(lateSec[to]! - late) <= ALIKE_SEC && isAstray(lateSec[to]!)) to++;
    if (isAstray(late)) {
      const meanOf = (values: readonly number[]): number =>
        values.slice(from, to).reduce((sum, one) => sum + one, 0) / (to - from);
      const isLong = to - from >= LEAST_NOTES && lengthOf(notes, from, to) >= LEAST_SEC;
      const cost = meanOf(costs);
      if (isLong && cost <= MOST_COST && meanOf(homeCosts) - cost >= LEAST_BETTER) {
        found.push(stretchOf(notes, from, to, meanOf(lateSec)));
      }
    }
    from = to;
  }
  return found;
}

function isAstray(lateSec: number): boolean {
  return Math.abs(lateSec) >= LEAST_LATE_SEC - 1e-9;
}

/** The longest stretches of notes that are heard nowhere near: each missing one counts 1, each heard one -2. */
function leftOut({ lateSec, costs }: LatePath, notes: readonly ExpectedNote[]): AstrayStretch[] {
  const isMissing = costs.map((cost, n) => cost >= MISSING_COST && !isAstray(lateSec[n]!));
  const heardAmong = (from: number, to: number): number => isMissing.slice(from, to).filter((one) => !one).length;
  const found: AstrayStretch[] = [];
  for (let from = 0; from < notes.length; ) {
    let sum = 0;
    let most = 0;
    let to = from;
    for (let n = from; n < notes.length && sum >= 0; n++) {
      sum += isMissing[n] ? 1 : -HEARD_COST;
      if (sum > most) [most, to] = [sum, n + 1];
    }
    const isLong = most >= MISSING_NOTES && lengthOf(notes, from, to) >= LEAST_SEC;
    if (isLong && heardAmong(0, from) >= NOTES_AROUND && heardAmong(to, notes.length) >= NOTES_AROUND) {
      found.push(stretchOf(notes, from, to, null));
    }
    from = Math.max(to, from + 1);
  }
  return found;
}

/** How long a stretch of notes is, s. to: one past its last. */
function lengthOf(notes: readonly ExpectedNote[], from: number, to: number): number {
  return notes[to - 1]!.endSec - notes[from]!.atSec;
}

function stretchOf(notes: readonly ExpectedNote[], from: number, to: number, lateSec: number | null): AstrayStretch {
  const [first, last] = [notes[from]!, notes[to - 1]!];
  return {
    fromSec: first.atSec,
    toSec: last.endSec,
    bars: first.bar === null || last.bar === null ? null : [first.bar, last.bar],
    lateSec,
    share: (to - from) / notes.length,
  };
}
