import type { ExpectedNote } from './expected-note.ts';

/** What is needed of a heard note: times of the session's clock, s, and its pitch, cents above A4 = 440 Hz. */
export interface PlacedNote {
  readonly fromSec: number;
  readonly toSec: number;
  readonly cents: number;
}

/** A stretch of a part that was played at another time than where it is written. */
export interface AstrayStretch {
  /** Session time at which its first note is written, and at which its last one ends, s. */
  readonly fromSec: number;
  readonly toSec: number;
  /** Bars of its first and last note; null where there are no bars. */
  readonly bars: readonly [number, number] | null;
  /** How much later it was played, s; below 0 earlier. */
  readonly lateSec: number;
  /** How much of the part's notes it holds, 0 to 1. */
  readonly share: number;
}

/** Latenesses looked at: up to this, in such steps, s. */
const FARTHEST_SEC = 4;
const STEP_SEC = 0.05;
/** What is less late is loose, not astray, s: timing's own limit (see timing.ts). */
const LEAST_LATE_SEC = 0.4;
/** A note this far from the written pitch is another one, cents. */
const PITCH_CENTS = 70;
/** A note that begins this far off counts as beginning elsewhere, s. */
const ONSET_SEC = 0.2;
/** Going on at another lateness costs as much as so many notes that are not there. Chosen, as are the rest. */
const CHANGE_COST = 2.5;
/** What lies where it is written needs no reason: cost for each note that does not, and for each second of it. */
const ASTRAY_COST = 0.05;
const ASTRAY_SEC_COST = 0.03;
/** A stretch is told from so many notes and seconds on, where it fits so well there, and so much better than where it is written. */
const LEAST_NOTES = 6;
const LEAST_SEC = 3;
const MOST_COST = 0.45;
const LEAST_BETTER = 0.3;
/** Neighbours whose lateness differs by less are one stretch, s. */
const ALIKE_SEC = 0.3;
/** A part of which less was played, in all, is another one. */
const MOST_PART_COST = 0.5;
/** Nor is another octave looked at where one fits so well. */
const SURE_PART_COST = 0.3;
/** Octaves a part may sound above what is written, half tones. */
const OCTAVES = [0, -12, 12, -24, 24];

interface Path {
  /** Lateness of each note, s. */
  readonly lateSec: readonly number[];
  /** Cost of each note there, and where it is written, 0 (it is there) to 1 (nothing of it is). */
  readonly costs: readonly number[];
  readonly homeCosts: readonly number[];
  readonly cost: number;
}

/**
 * Stretches of a take that lie late or early against the guide by more than looseness, as after a wrong entry. For each written note
 * and each lateness: how much of it is heard there, and whether it begins there; then the path of least cost through the latenesses
 * (Viterbi 1967), which changes seldom. heard: in time order. parts: the written ones, times of the session's clock; the part and
 * octave that fit best are taken. Empty where no part fits. Our own rule, no source. Cost: some 160 latenesses a note and octave.
 */
export function astrayStretches(
  heard: readonly PlacedNote[],
  parts: readonly (readonly ExpectedNote[])[],
): AstrayStretch[] {
  let best: { path: Path; notes: readonly ExpectedNote[] } | undefined;
  for (const notes of parts) {
    if (notes.length < LEAST_NOTES) continue;
    for (const octave of OCTAVES) {
      const path = pathThrough(heard, notes, 100 * octave);
      if (best === undefined || path.cost / notes.length < best.path.cost / best.notes.length) best = { path, notes };
      if (path.cost < SURE_PART_COST * notes.length) break;
    }
  }
  if (best === undefined || best.path.cost > MOST_PART_COST * best.notes.length) return [];
  return stretchesOf(best.path, best.notes);
}

function pathThrough(heard: readonly PlacedNote[], notes: readonly ExpectedNote[], liftCents: number): Path {
  const home = Math.round(FARTHEST_SEC / STEP_SEC);
  const count = 2 * home + 1;
  const lateOf = (state: number): number => (state - home) * STEP_SEC;
  const rows: Float64Array[] = [];
  const ways: Int16Array[] = [];
  let before = new Float64Array(count);
  for (const [index, note] of notes.entries()) {
    const isTied = index > 0 && notes[index - 1]!.key === note.key;
    const near = heard.filter(
      ({ fromSec, toSec, cents }) =>
        Math.abs(cents - liftCents - note.cents) <= PITCH_CENTS &&
        toSec > note.atSec - FARTHEST_SEC &&
        fromSec < note.endSec + FARTHEST_SEC,
    );
    const least = before.reduce((one, other) => Math.min(one, other));
    const leastAt = before.indexOf(least);
    const row = new Float64Array(count);
    const way = new Int16Array(count);
    const sums = new Float64Array(count);
    for (let state = 0; state < count; state++) {
      const late = lateOf(state);
      row[state] = costAt(near, note, late, isTied);
      const stays = before[state]! <= least + CHANGE_COST;
      way[state] = stays ? state : leastAt;
      const astray = state === home ? 0 : ASTRAY_COST + ASTRAY_SEC_COST * Math.abs(late);
      sums[state] = row[state]! + astray + (stays ? before[state]! : least + CHANGE_COST);
    }
    rows.push(row);
    ways.push(way);
    before = sums;
  }
  let state = before.indexOf(before.reduce((one, other) => Math.min(one, other)));
  const states: number[] = notes.map(() => home);
  for (let n = notes.length - 1; n >= 0; n--) {
    states[n] = state;
    state = ways[n]![state]!;
  }
  const costs = states.map((at, n) => rows[n]![at]!);
  return {
    lateSec: states.map(lateOf),
    costs,
    homeCosts: rows.map((row) => row[home]!),
    cost: costs.reduce((sum, one) => sum + one, 0),
  };
}

/** What is missing of a note that is looked for so much later: half for what does not sound, half for where it does not begin. */
function costAt(near: readonly PlacedNote[], note: ExpectedNote, lateSec: number, isTied: boolean): number {
  const fromSec = note.atSec + lateSec;
  const toSec = note.endSec + lateSec;
  let soundingSec = 0;
  let begins = 0;
  for (const one of near) {
    soundingSec += Math.max(0, Math.min(toSec, one.toSec) - Math.max(fromSec, one.fromSec));
    begins = Math.max(begins, 1 - Math.abs(one.fromSec - fromSec) / ONSET_SEC);
  }
  const covered = Math.min(1, soundingSec / Math.max(0.05, 0.8 * (toSec - fromSec)));
  // A note that is repeated is heard as one with the last at times.
  return 1 - 0.5 * covered - 0.5 * Math.max(begins, isTied ? 0.8 * covered : 0);
}

function stretchesOf({ lateSec, costs, homeCosts }: Path, notes: readonly ExpectedNote[]): AstrayStretch[] {
  const found: AstrayStretch[] = [];
  for (let from = 0; from < notes.length; ) {
    const late = lateSec[from]!;
    let to = from + 1;
    while (to < notes.length && Math.abs(lateSec[to]! - late) <= ALIKE_SEC && isAstray(lateSec[to]!)) to++;
    if (isAstray(late)) {
      const meanOf = (values: readonly number[]): number =>
        values.slice(from, to).reduce((sum, one) => sum + one, 0) / (to - from);
      const [first, last] = [notes[from]!, notes[to - 1]!];
      const isLong = to - from >= LEAST_NOTES && last.endSec - first.atSec >= LEAST_SEC;
      const cost = meanOf(costs);
      if (isLong && cost <= MOST_COST && meanOf(homeCosts) - cost >= LEAST_BETTER) {
        found.push({
          fromSec: first.atSec,
          toSec: last.endSec,
          bars: first.bar === null || last.bar === null ? null : [first.bar, last.bar],
          lateSec: meanOf(lateSec),
          share: (to - from) / notes.length,
        });
      }
    }
    from = to;
  }
  return found;
}

function isAstray(lateSec: number): boolean {
  return Math.abs(lateSec) >= LEAST_LATE_SEC - 1e-9;
}
