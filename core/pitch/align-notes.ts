import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { ExpectedNote } from './expected-note.ts';
import { alikeNotes, type HeardRow, pairNotes, type WrittenRow } from './note-chain.ts';
import { isSkipped, type Skip, skipsOf, withoutSkips } from './score-skips.ts';

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
  /** Half tones the voice sounds above the score: whole octaves, or what a transposing instrument or another key makes of it. */
  readonly halfTones: number;
  /** What was passed over, as a repeat that was not played; none where the clock is known. */
  readonly skips: readonly Skip[];
  /** Session time of a time of the score's clock, without the skips before it: see `sessionSecAt`. */
  readonly shiftSec: number;
  readonly stretch: number;
  /** Cost for each expected note, 0 (all as written) to about 1 (nothing fits). */
  readonly cost: number;
}

/** Session time of a time of the score. */
export function sessionSecAt(clock: Pick<Alignment, 'skips' | 'shiftSec' | 'stretch'>, atSec: number): number {
  return clock.shiftSec + clock.stretch * withoutSkips(clock.skips, atSec);
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
/** Farther off than this many times what costs 1, both notes are cheaper left out than matched: the root of LEFT_OUT + MOST_ADDED, and a little. */
const FARTHEST_LATE = 1.35;
const LOOSE_TIME_SEC = 1.5;
const PAIR_COSTS = { pitchCents: PITCH_CENTS, farthestCents: FARTHEST_CENTS, farthestLate: FARTHEST_LATE };
/** Half tones tried: basses and guitars are written an octave higher than they sound, and scores differ in what they keep. */
const OCTAVES = [0, -12, 12, -24, 24];
/** Where no octave fits for less than this, the likeliest of these others are tried: transposing instruments, another key, another A. */
const POOR_COST = 0.5;
const FARTHEST_SHIFT = 21;
const SHIFTS_TRIED = 3;
/** Such a shift has to fit well, and so much better than any octave. */
const SHIFTED_COST = 0.35;
const SHIFTED_BETTER = 0.25;

/**
 * Matches heard notes to a score's by dynamic programming over both rows (Needleman and Wunsch 1970): pitch, and time once it
 * is known. clockKnown: the expected times are session times (a guide), else tempo and beginning are found on the way: a
 * first pass by pitch alone, a line through what it matched, and two more passes about it.
 * Throws CancelledError. Cost: a pass over 1000 notes of each is some 1 ms.
 */
export function alignNotes(
  heard: readonly AlignedNote[],
  expected: readonly ExpectedNote[],
  clockKnown: boolean,
  cancel?: Cancel,
): Alignment {
  const rows = rowsOf(heard, expected);
  let best: Alignment | undefined;
  for (const halfTones of OCTAVES) {
    const one = alignAt(rows, heard, expected, { clockKnown, halfTones, cancel });
    if (best === undefined || one.cost < best.cost - 0.02) best = one;
    if (best.cost < 0.3) break;
  }
  if (best!.cost < POOR_COST) return best!;
  let shifted: Alignment | undefined;
  for (const halfTones of likelyShifts(heard, expected)) {
    const one = alignAt(rows, heard, expected, { clockKnown, halfTones, cancel });
    if (shifted === undefined || one.cost < shifted.cost) shifted = one;
  }
  const isBetter = shifted !== undefined && shifted.cost <= Math.min(SHIFTED_COST, best!.cost - SHIFTED_BETTER);
  return isBetter ? shifted! : best!;
}

/** The shifts, octaves aside, by which the heard notes have most in common with the written ones: how long each key sounds. */
function likelyShifts(heard: readonly AlignedNote[], expected: readonly ExpectedNote[]): number[] {
  const heardSec = new Map<number, number>();
  for (const { cents, fromSec, toSec } of heard) {
    const key = 69 + Math.round(cents / 100);
    heardSec.set(key, (heardSec.get(key) ?? 0) + toSec - fromSec);
  }
  const writtenSec = new Map<number, number>();
  for (const { key, atSec, endSec } of expected) {
    writtenSec.set(key, (writtenSec.get(key) ?? 0) + endSec - atSec);
  }
  const keys = [...writtenSec.keys()];
  const secs = [...writtenSec.values()];
  const likely: { readonly shift: number; readonly common: number }[] = [];
  for (let shift = -FARTHEST_SHIFT; shift <= FARTHEST_SHIFT; shift++) {
    if (shift % 12 === 0) continue;
    let common = 0;
    for (let n = 0; n < keys.length; n++) common += Math.sqrt(secs[n]! * (heardSec.get(keys[n]! + shift) ?? 0));
    likely.push({ shift, common });
  }
  return likely
    .sort((one, other) => other.common - one.common)
    .slice(0, SHIFTS_TRIED)
    .map(({ shift }) => shift);
}

/** The notes of both sides as rows of numbers, made once for all the shifts that are tried. */
interface Rows {
  readonly heard: HeardRow;
  readonly writtenCents: Float64Array;
  readonly atSec: Float64Array;
}

function rowsOf(heard: readonly AlignedNote[], expected: readonly ExpectedNote[]): Rows {
  const fromSec = new Float64Array(heard.length);
  const cents = new Float64Array(heard.length);
  const added = new Float64Array(heard.length);
  for (let n = 0; n < heard.length; n++) {
    const note = heard[n]!;
    fromSec[n] = note.fromSec;
    cents[n] = note.cents;
    added[n] = Math.min(MOST_ADDED, ADDED_PER_SEC * (note.toSec - note.fromSec));
  }
  const writtenCents = new Float64Array(expected.length);
  const atSec = new Float64Array(expected.length);
  for (let n = 0; n < expected.length; n++) {
    writtenCents[n] = expected[n]!.cents;
    atSec[n] = expected[n]!.atSec;
  }
  return { heard: { fromSec, cents, added }, writtenCents, atSec };
}

function alignAt(
  rows: Rows,
  heard: readonly AlignedNote[],
  expected: readonly ExpectedNote[],
  { clockKnown, halfTones, cancel }: { clockKnown: boolean; halfTones: number; cancel: Cancel | undefined },
): Alignment {
  throwIfCancelled(cancel);
  const cents = rows.writtenCents.slice();
  for (let n = 0; n < cents.length; n++) cents[n]! += 100 * halfTones;
  if (clockKnown) {
    const { heardOf, cost } = pass(rows.heard, { cents, atSec: rows.atSec }, TIME_SEC);
    return { heardOf, halfTones, skips: [], shiftSec: 0, stretch: 1, cost };
  }
  let line = { shiftSec: 0, stretch: 1 };
  const loose = pass(rows.heard, { cents, atSec: undefined }, 1, alikeNotes(rows.heard.cents, cents, FARTHEST_CENTS));
  const skips = skipsOf(heard, expected, loose.heardOf);
  const closedSec = skips.length === 0 ? rows.atSec : rows.atSec.map((sec) => withoutSkips(skips, sec));
  let result = loose;
  for (const width of [LOOSE_TIME_SEC, LOOSE_TIME_SEC / 2]) {
    line = lineThrough(rows.heard.fromSec, closedSec, result.heardOf) ?? line;
    const { shiftSec, stretch } = line;
    const atSec = closedSec.map((sec) => shiftSec + stretch * sec);
    result = pass(rows.heard, { cents, atSec }, width);
  }
  // Notes that were passed over as a whole cost one note.
  const count = expected.length;
  const skipped = expected.filter((note, at) => result.heardOf[at] === null && isSkipped(skips, note)).length;
  const cost = (result.cost * count - (skipped - skips.length) * LEFT_OUT) / Math.max(1, count - skipped);
  return { heardOf: result.heardOf, cost: skips.length === 0 ? result.cost : cost, halfTones, skips, ...line };
}

/** Heard notes that are not in the score (before the music, in the rests) do not speak against a part: the cost is one for each written note. */
function pass(
  heard: HeardRow,
  written: WrittenRow,
  timeSec: number,
  alikes?: readonly Int32Array[],
): { heardOf: (number | null)[]; cost: number } {
  const { heardOf, cost } = pairNotes(heard, written, { ...PAIR_COSTS, timeSec }, alikes);
  return { heardOf, cost: cost / Math.max(1, written.cents.length) };
}

/** A robust line through matched times: median of the slopes between far notes, then of what is left. */
function lineThrough(
  heardSec: Float64Array,
  writtenSec: Float64Array,
  heardOf: readonly (number | null)[],
): { shiftSec: number; stretch: number } | undefined {
  const at = heardOf.flatMap((index, n) => (index === null ? [] : [n]));
  const x = Float64Array.from(at, (n) => writtenSec[n]!);
  const y = Float64Array.from(at, (n) => heardSec[heardOf[n]!]!);
  const half = at.length >> 1;
  if (half < 2) return undefined;
  const slopes = new Float64Array(at.length - half);
  for (let n = 0; n < slopes.length; n++) slopes[n] = (y[n + half]! - y[n]!) / Math.max(1e-3, x[n + half]! - x[n]!);
  slopes.sort();
  const stretch = Math.min(4, Math.max(0.25, slopes[slopes.length >> 1]!));
  const rests = x.map((sec, n) => y[n]! - stretch * sec).sort();
  return { shiftSec: rests[rests.length >> 1]!, stretch };
}
