import type { ExpectedNote } from './expected-note.ts';

/** What is needed of a heard note: times of the session's clock, s, and its pitch, cents above A4 = 440 Hz. */
export interface PlacedNote {
  readonly fromSec: number;
  readonly toSec: number;
  readonly cents: number;
}

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

interface Path {
  /** Lateness of each note, s. */
  readonly lateSec: readonly number[];
  /** Cost of each note there, and where it is written, 0 (it is there) to 1 (nothing of it is). */
  readonly costs: readonly number[];
  readonly homeCosts: readonly number[];
  readonly cost: number;
  /** With what it costs to lie elsewhere: where two parts are alike but for their time, as in a canon, this one tells them apart. */
  readonly wholeCost: number;
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
      if (best === undefined || path.wholeCost / notes.length < best.path.wholeCost / best.notes.length)
        best = { path, notes };
      if (path.cost < SURE_PART_COST * notes.length) break;
    }
  }
  if (best === undefined || best.path.cost > MOST_PART_COST * best.notes.length) return [];
  const { path, notes } = best;
  return [...lateOnes(path, notes), ...leftOut(path, notes)].sort((one, other) => one.fromSec - other.fromSec);
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
  const last = before.indexOf(before.reduce((one, other) => Math.min(one, other)));
  let state = last;
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
    wholeCost: before[last]!,
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

function lateOnes({ lateSec, costs, homeCosts }: Path, notes: readonly ExpectedNote[]): AstrayStretch[] {
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
function leftOut({ lateSec, costs }: Path, notes: readonly ExpectedNote[]): AstrayStretch[] {
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
