import type { ExpectedNote } from '../../../core/pitch/expected-note.ts';
import type { PlacedNote } from '../../../core/pitch/lateness-search.ts';

/* How a part was looked for before: each note at each lateness, with arrays of their own. Oracle of LatenessSearch. */

const FARTHEST_SEC = 4;
const STEP_SEC = 0.05;
const PITCH_CENTS = 70;
const ONSET_SEC = 0.2;
const CHANGE_COST = 2.5;
const ASTRAY_COST = 0.05;
const ASTRAY_SEC_COST = 0.03;

export interface FullPath {
  /** Lateness of each note, s. */
  readonly lateSec: readonly number[];
  /** Cost of each note there, and where it is written, 0 (it is there) to 1 (nothing of it is). */
  readonly costs: readonly number[];
  readonly homeCosts: readonly number[];
  readonly cost: number;
  /** With what it costs to lie elsewhere: where two parts are alike but for their time, as in a canon, this one tells them apart. */
  readonly wholeCost: number;
}

/** The latenesses, s, and what each costs of itself. */
const HOME = Math.round(FARTHEST_SEC / STEP_SEC);
const STATES = 2 * HOME + 1;
const LATES_SEC = Float64Array.from({ length: STATES }, (_, state) => (state - HOME) * STEP_SEC);
const ASTRAY_COSTS = LATES_SEC.map((late, state) =>
  state === HOME ? 0 : ASTRAY_COST + ASTRAY_SEC_COST * Math.abs(late),
);

export function everyLateness(
  heard: readonly PlacedNote[],
  notes: readonly ExpectedNote[],
  liftCents: number,
): FullPath {
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
function pathOf(rows: Float64Array, ways: Int16Array, sums: Float64Array): FullPath {
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
