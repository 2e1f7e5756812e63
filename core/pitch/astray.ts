import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
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
  cancel?: Cancel,
): AstrayStretch[] {
  let best: { path: Path; notes: readonly ExpectedNote[] } | undefined;
  for (const notes of parts) {
    if (notes.length < LEAST_NOTES) continue;
    for (const octave of OCTAVES) {
      throwIfCancelled(cancel);
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

/** The latenesses, s, and what each costs of itself. */
const HOME = Math.round(FARTHEST_SEC / STEP_SEC);
const STATES = 2 * HOME + 1;
const LATES_SEC = Float64Array.from({ length: STATES }, (_, state) => (state - HOME) * STEP_SEC);
const ASTRAY_COSTS = LATES_SEC.map((late, state) =>
  state === HOME ? 0 : ASTRAY_COST + ASTRAY_SEC_COST * Math.abs(late),
);

function pathThrough(heard: readonly PlacedNote[], notes: readonly ExpectedNote[], liftCents: number): Path {
  const rows = new Float64Array(notes.length * STATES);
  const ways = new Int16Array(notes.length * STATES);
  const sounding = new Sounding(heard, liftCents);
  let before = new Float64Array(STATES);
  let sums = new Float64Array(STATES);
  for (let n = 0; n < notes.length; n++) {
    const isTied = n > 0 && notes[n - 1]!.key === notes[n]!.key;
    const row = rows.subarray(n * STATES, (n + 1) * STATES);
    sounding.costsOf(notes[n]!, isTied, row);
    goOn(before, row, sums, ways.subarray(n * STATES, (n + 1) * STATES));
    [before, sums] = [sums, before];
  }
  return pathOf(rows, ways, before);
}

/** One note further along all paths. sums: what the path to each lateness costs with it; ways: from which lateness it comes. */
function goOn(before: Float64Array, row: Float64Array, sums: Float64Array, ways: Int16Array): void {
  const leastAt = leastOf(before);
  const moved = before[leastAt]! + CHANGE_COST;
  for (let state = 0; state < STATES; state++) {
    const stays = before[state]! <= moved;
    ways[state] = stays ? state : leastAt;
    sums[state] = row[state]! + ASTRAY_COSTS[state]! + (stays ? before[state]! : moved);
  }
}

/** The path of least cost. rows, ways: of each note; sums: what the paths cost in the end. */
function pathOf(rows: Float64Array, ways: Int16Array, sums: Float64Array): Path {
  const last = leastOf(sums);
  const states = new Int16Array(rows.length / STATES);
  for (let n = states.length - 1, state = last; n >= 0; n--) {
    states[n] = state;
    state = ways[n * STATES + state]!;
  }
  const costs = Array.from(states, (at, n) => rows[n * STATES + at]!);
  return {
    lateSec: Array.from(states, (at) => LATES_SEC[at]!),
    costs,
    homeCosts: Array.from(states, (_, n) => rows[n * STATES + HOME]!),
    cost: costs.reduce((sum, one) => sum + one, 0),
    wholeCost: sums[last]!,
  };
}

/** Where a row is least: the first such place. */
function leastOf(row: Float64Array): number {
  let at = 0;
  for (let n = 1; n < row.length; n++) if (row[n]! < row[at]!) at = n;
  return at;
}

/** What is heard of written notes at all latenesses. */
class Sounding {
  readonly #fromSec: Float64Array;
  readonly #toSec: Float64Array;
  readonly #cents: Float64Array;
  readonly #lastSec: Float64Array;
  /** Of one note at each lateness: how long it sounds there, s, and whether it begins there, 0 to 1. */
  readonly #soundingSec = new Float64Array(STATES);
  readonly #begins = new Float64Array(STATES);

  constructor(heard: readonly PlacedNote[], liftCents: number) {
    this.#fromSec = Float64Array.from(heard, ({ fromSec }) => fromSec);
    this.#toSec = Float64Array.from(heard, ({ toSec }) => toSec);
    this.#cents = Float64Array.from(heard, ({ cents }) => cents - liftCents);
    // When the last of all up to each one ends, so that those long over are passed over at once.
    this.#lastSec = this.#toSec.slice();
    for (let n = 1; n < heard.length; n++) this.#lastSec[n] = Math.max(this.#lastSec[n]!, this.#lastSec[n - 1]!);
  }

  /** What is missing of a note where it is looked for so much later: half for what does not sound, half for where it does not begin. */
  costsOf(note: ExpectedNote, isTied: boolean, costs: Float64Array): void {
    this.#soundingSec.fill(0);
    this.#begins.fill(0);
    for (let n = this.#firstAfter(note.atSec - FARTHEST_SEC); n < this.#cents.length; n++) {
      if (this.#fromSec[n]! >= note.endSec + FARTHEST_SEC) break;
      const isNear = this.#toSec[n]! > note.atSec - FARTHEST_SEC;
      if (isNear && Math.abs(this.#cents[n]! - note.cents) <= PITCH_CENTS) this.#add(n, note);
    }
    for (let state = 0; state < STATES; state++) {
      const late = LATES_SEC[state]!;
      const lengthSec = note.endSec + late - (note.atSec + late);
      const covered = Math.min(1, this.#soundingSec[state]! / Math.max(0.05, 0.8 * lengthSec));
      // A note that is repeated is heard as one with the last at times.
      costs[state] = 1 - 0.5 * covered - 0.5 * Math.max(this.#begins[state]!, isTied ? 0.8 * covered : 0);
    }
  }

  /** Adds what a heard note gives a written one: it sounds at some of the latenesses, and begins at a few. */
  #add(n: number, { atSec, endSec }: ExpectedNote): void {
    const [fromSec, toSec] = [this.#fromSec[n]!, this.#toSec[n]!];
    const first = Math.max(0, HOME + Math.floor(Math.min(fromSec - endSec, fromSec - atSec - ONSET_SEC) / STEP_SEC));
    const last = Math.min(
      STATES - 1,
      HOME + Math.ceil(Math.max(toSec - atSec, fromSec - atSec + ONSET_SEC) / STEP_SEC),
    );
    for (let state = first; state <= last; state++) {
      const late = LATES_SEC[state]!;
      const here = atSec + late;
      this.#soundingSec[state]! += Math.max(0, Math.min(endSec + late, toSec) - Math.max(here, fromSec));
      this.#begins[state] = Math.max(this.#begins[state]!, 1 - Math.abs(fromSec - here) / ONSET_SEC);
    }
  }

  #firstAfter(sec: number): number {
    let [low, high] = [0, this.#lastSec.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.#lastSec[middle]! > sec) high = middle;
      else low = middle + 1;
    }
    return low;
  }
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
