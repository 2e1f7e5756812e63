import type { ExpectedNote } from './expected-note.ts';

/** What alignment needs of a heard note. */
export interface AlignedNote {
  /** On the session's clock, s. */
  readonly fromSec: number;
  readonly toSec: number;
  readonly cents: number;
}

/** Which heard note is which note of the score. */
export interface Alignment {
  /** For each expected note the index of its heard note, or null. */
  readonly heardOf: readonly (number | null)[];
  /** Octaves the voice sounds above the score, whole. */
  readonly octaves: number;
  /** Session time of a time of the score's clock: secAt = shiftSec + stretch * atSec. */
  readonly shiftSec: number;
  readonly stretch: number;
  /** Cost for each expected note, 0 (all as written) to about 1 (nothing fits). */
  readonly cost: number;
}

/** Costs, in units of a note left out (1). Our own choice; they were not tuned. */
const LEFT_OUT = 1;
const ADDED_PER_SEC = 2;
const MOST_ADDED = 0.8;
/** A heard note this far from the written pitch costs 1; more than twice as far is another note. */
const PITCH_CENTS = 70;
const FARTHEST_CENTS = 140;
/** With known times: a note this far off its time costs 1. */
const TIME_SEC = 0.25;
const LOOSE_TIME_SEC = 1.5;
/** Octaves tried: basses and guitars are written an octave higher than they sound, and scores differ in what they keep. */
const OCTAVES = [0, -1, 1, -2, 2];

/**
 * Matches heard notes to a score's by dynamic programming over both rows (Needleman and Wunsch 1970): pitch, and time once it
 * is known. clockKnown: the expected times are session times (a guide), else tempo and beginning are found on the way: a
 * first pass by pitch alone, a line through what it matched, and two more passes about it.
 * Cost: heard times expected notes, 2000 each at most at a time is some 60 ms.
 */
export function alignNotes(
  heard: readonly AlignedNote[],
  expected: readonly ExpectedNote[],
  clockKnown: boolean,
): Alignment {
  let best: Alignment | undefined;
  for (const octaves of OCTAVES) {
    const one = alignAt(heard, expected, clockKnown, octaves);
    if (best === undefined || one.cost < best.cost - 0.02) best = one;
    if (best.cost < 0.3) break;
  }
  return best!;
}

function alignAt(
  heard: readonly AlignedNote[],
  expected: readonly ExpectedNote[],
  clockKnown: boolean,
  octaves: number,
): Alignment {
  if (clockKnown) {
    const { heardOf, cost } = pass(heard, expected, octaves, (sec) => sec, TIME_SEC);
    return { heardOf, octaves, shiftSec: 0, stretch: 1, cost };
  }
  let line = { shiftSec: 0, stretch: 1 };
  let result = pass(heard, expected, octaves, undefined, 1);
  for (const width of [LOOSE_TIME_SEC, LOOSE_TIME_SEC / 2]) {
    line = lineThrough(heard, expected, result.heardOf) ?? line;
    const { shiftSec, stretch } = line;
    result = pass(heard, expected, octaves, (sec) => shiftSec + stretch * sec, width);
  }
  return { ...result, octaves, ...line };
}

function pass(
  heard: readonly AlignedNote[],
  expected: readonly ExpectedNote[],
  octaves: number,
  clock: ((sec: number) => number) | undefined,
  timeSec: number,
): { heardOf: (number | null)[]; cost: number } {
  const rows = heard.length + 1;
  const columns = expected.length + 1;
  const costs = new Float64Array(rows * columns);
  const ways = new Uint8Array(rows * columns);
  const added = heard.map((note) => Math.min(MOST_ADDED, ADDED_PER_SEC * (note.toSec - note.fromSec)));
  const times = expected.map((note) => (clock === undefined ? 0 : clock(note.atSec)));
  for (let i = 0; i < rows; i++) {
    for (let j = 0; j < columns; j++) {
      if (i === 0 && j === 0) continue;
      const here = i * columns + j;
      let cost = Number.POSITIVE_INFINITY;
      if (i > 0) {
        cost = costs[here - columns]! + added[i - 1]!;
        ways[here] = 1;
      }
      if (j > 0 && costs[here - 1]! + LEFT_OUT < cost) {
        cost = costs[here - 1]! + LEFT_OUT;
        ways[here] = 2;
      }
      if (i > 0 && j > 0) {
        const note = heard[i - 1]!;
        const off = Math.abs(note.cents - 1200 * octaves - expected[j - 1]!.cents);
        if (off <= FARTHEST_CENTS) {
          const late = clock === undefined ? 0 : Math.abs(note.fromSec - times[j - 1]!) / timeSec;
          const match = costs[here - columns - 1]! + 0.5 * (off / PITCH_CENTS) ** 2 + late * late;
          if (match < cost) {
            cost = match;
            ways[here] = 3;
          }
        }
      }
      costs[here] = cost;
    }
  }
  const heardOf: (number | null)[] = expected.map(() => null);
  for (let i = heard.length, j = expected.length; i > 0 || j > 0; ) {
    const way = ways[i * columns + j]!;
    if (way === 3) heardOf[--j] = --i;
    else if (way === 2) j--;
    else i--;
  }
  // Heard notes that are not in the score (before the music, in the rests) do not speak against a part.
  return { heardOf, cost: costs.at(-1)! / Math.max(1, expected.length) };
}

/** A robust line through matched times: median of the slopes between far notes, then of what is left. */
function lineThrough(
  heard: readonly AlignedNote[],
  expected: readonly ExpectedNote[],
  heardOf: readonly (number | null)[],
): { shiftSec: number; stretch: number } | undefined {
  const points = heardOf.flatMap((index, at) => (index === null ? [] : [[expected[at]!.atSec, heard[index]!.fromSec]]));
  const half = points.length >> 1;
  if (half < 2) return undefined;
  const slopes = points
    .slice(0, points.length - half)
    .map(([x, y], n) => (points[n + half]![1]! - y!) / Math.max(1e-3, points[n + half]![0]! - x!))
    .sort((a, b) => a - b);
  const stretch = Math.min(4, Math.max(0.25, slopes[slopes.length >> 1]!));
  const rests = points.map(([x, y]) => y! - stretch * x!).sort((a, b) => a - b);
  return { shiftSec: rests[rests.length >> 1]!, stretch };
}
