import type { ExpectedNote } from './expected-note.ts';

/** What is needed of a heard note: times of the session's clock, s, and its pitch, cents above A4 = 440 Hz. */
export interface PlacedNote {
  readonly fromSec: number;
  readonly toSec: number;
  readonly cents: number;
}

/** Latenesses looked at: up to this, in such steps, s. */
const FARTHEST_SEC = 4;
const STEP_SEC = 0.05;
/** A note this far from the written pitch is another one, cents. */
const PITCH_CENTS = 70;
/** A note that begins this far off counts as beginning elsewhere, s. */
const ONSET_SEC = 0.2;
/** Going on at another lateness costs as much as so many notes that are not there. Chosen, as are the rest. */
const CHANGE_COST = 2.5;
/** What lies where it is written needs no reason: cost for each note that does not, and for each second of it. */
const ASTRAY_COST = 0.05;
const ASTRAY_SEC_COST = 0.03;

/** The latenesses, s, and what each costs of itself. */
const HOME = Math.round(FARTHEST_SEC / STEP_SEC);
const STATES = 2 * HOME + 1;
const LATES_SEC = Float64Array.from({ length: STATES }, (_, state) => (state - HOME) * STEP_SEC);
const ASTRAY_COSTS = LATES_SEC.map((late, state) =>
  state === HOME ? 0 : ASTRAY_COST + ASTRAY_SEC_COST * Math.abs(late),
);

/** Where a part lies in what was heard. */
export interface LatePath {
  /** Lateness of each note, s. */
  readonly lateSec: readonly number[];
  /** Cost of each note there, and where it is written, 0 (it is there) to 1 (nothing of it is). */
  readonly costs: readonly number[];
  readonly homeCosts: readonly number[];
  readonly cost: number;
}

/** The path of least cost through the latenesses of one part after another in what is heard; its arrays serve them all. */
export class LatenessSearch {
  readonly #fromSec: Float64Array;
  readonly #toSec: Float64Array;
  readonly #cents: Float64Array;
  readonly #lastSec: Float64Array;
  /** Of the part that is looked for: one number a note. */
  readonly #atSec: Float64Array;
  readonly #endSec: Float64Array;
  readonly #written: Float64Array;
  readonly #isTied: Uint8Array;
  #count = 0;
  /** How far above what is written the states lie that were found last; NaN of none. */
  #foundCents = Number.NaN;
  /** One number a note and lateness: what is missing of the note there, and from which lateness the least path comes. */
  readonly #rows: Float64Array;
  readonly #ways: Int16Array;
  readonly #states: Int16Array;
  /** What the paths to each lateness cost; and with one note more. */
  #before = new Float64Array(STATES);
  #sums = new Float64Array(STATES);
  /** Of one note at each lateness: how long it sounds there, s, and whether it begins there, 0 to 1. */
  readonly #soundingSec = new Float64Array(STATES);
  readonly #begins = new Float64Array(STATES);

  constructor(heard: readonly PlacedNote[], mostNotes: number) {
    const count = heard.length;
    this.#fromSec = new Float64Array(count);
    this.#toSec = new Float64Array(count);
    this.#cents = new Float64Array(count);
    // When the last of all up to each one ends, so that those long over are passed over at once.
    this.#lastSec = new Float64Array(count);
    for (let n = 0, lastSec = Number.NEGATIVE_INFINITY; n < count; n++) {
      const { fromSec, toSec, cents } = heard[n]!;
      this.#fromSec[n] = fromSec;
      this.#toSec[n] = toSec;
      this.#cents[n] = cents;
      if (toSec > lastSec) lastSec = toSec;
      this.#lastSec[n] = lastSec;
    }
    this.#atSec = new Float64Array(mostNotes);
    this.#endSec = new Float64Array(mostNotes);
    this.#written = new Float64Array(mostNotes);
    this.#isTied = new Uint8Array(mostNotes);
    this.#rows = new Float64Array(mostNotes * STATES);
    this.#ways = new Int16Array(mostNotes * STATES);
    this.#states = new Int16Array(mostNotes);
  }

  /** notes: of a part, as many as the constructor was told at most. */
  lookFor(notes: readonly ExpectedNote[]): void {
    this.#count = notes.length;
    this.#foundCents = Number.NaN;
    for (let n = 0, key = Number.NaN; n < notes.length; n++) {
      const note = notes[n]!;
      this.#atSec[n] = note.atSec;
      this.#endSec[n] = note.endSec;
      this.#written[n] = note.cents;
      this.#isTied[n] = note.key === key ? 1 : 0;
      key = note.key;
    }
  }

  /** About what is missing of the part where it is written. */
  homeCost(): number {
    let cost = 0;
    for (let n = 0; n < this.#count; n++) {
      this.#costsOf(n, 0, HOME, HOME);
      cost += this.#rows[n * STATES + HOME]!;
    }
    return cost;
  }

  /**
   * Searches so many cents above what is written. cost: of the notes where the path has them; noteCost: with all that the path costs, a note.
   * Undefined as soon as it is sure that noteCost is `most` or more, or more than `bound`.
   */
  run(
    liftCents: number,
    most = Number.POSITIVE_INFINITY,
    bound = Number.POSITIVE_INFINITY,
  ): { readonly cost: number; readonly noteCost: number; readonly count: number } | undefined {
    const count = this.#count;
    this.#foundCents = Number.NaN;
    this.#before.fill(0);
    let leastAt = 0;
    for (let n = 0; n < count; n++) {
      this.#costsOf(n, liftCents, 0, STATES - 1);
      leastAt = this.#goOn(n, leastAt);
      const soFar = this.#before[leastAt]! / count;
      if (soFar >= most || soFar > bound) return undefined;
    }
    const noteCost = this.#before[leastAt]! / count;
    this.#foundCents = liftCents;
    for (let n = count - 1, state = leastAt; n >= 0; n--) {
      this.#states[n] = state;
      state = this.#ways[n * STATES + state]!;
    }
    let cost = 0;
    for (let n = 0; n < count; n++) cost += this.#rows[n * STATES + this.#states[n]!]!;
    return { cost, noteCost, count };
  }

  /** The path so many cents above what is written. */
  pathAt(liftCents: number): LatePath {
    if (this.#foundCents !== liftCents) this.run(liftCents);
    const lateSec: number[] = [];
    const costs: number[] = [];
    const homeCosts: number[] = [];
    let cost = 0;
    for (let n = 0; n < this.#count; n++) {
      const state = this.#states[n]!;
      const here = this.#rows[n * STATES + state]!;
      lateSec.push(LATES_SEC[state]!);
      costs.push(here);
      homeCosts.push(this.#rows[n * STATES + HOME]!);
      cost += here;
    }
    return { lateSec, costs, homeCosts, cost };
  }

  /** One note further along all paths. leastAt: where `before` is least, the first such place; gives that of what follows, which is `before` then. */
  #goOn(n: number, leastAt: number): number {
    const before = this.#before;
    const sums = this.#sums;
    const rows = this.#rows;
    const ways = this.#ways;
    const first = n * STATES;
    const moved = before[leastAt]! + CHANGE_COST;
    let least = Number.POSITIVE_INFINITY;
    let at = 0;
    for (let state = 0; state < STATES; state++) {
      const stay = before[state]!;
      const stays = stay <= moved;
      const sum = rows[first + state]! + ASTRAY_COSTS[state]! + (stays ? stay : moved);
      ways[first + state] = stays ? state : leastAt;
      sums[state] = sum;
      if (sum < least) {
        least = sum;
        at = state;
      }
    }
    this.#before = sums;
    this.#sums = before;
    return at;
  }

  /**
   * What is missing of a note where it is looked for so much later: half for what does not sound, half for where it does not begin. lowest,
   * highest: the latenesses at which it is looked for; all else counts as missing.
   */
  #costsOf(n: number, liftCents: number, lowest: number, highest: number): void {
    const atSec = this.#atSec[n]!;
    const endSec = this.#endSec[n]!;
    const written = this.#written[n]!;
    const soundingSec = this.#soundingSec;
    const begins = this.#begins;
    // Latenesses at which anything of it is heard: everywhere else all of it is missing.
    let first = STATES;
    let last = -1;
    for (let k = this.#firstAfter(atSec - FARTHEST_SEC); k < this.#cents.length; k++) {
      const fromSec = this.#fromSec[k]!;
      if (fromSec >= endSec + FARTHEST_SEC) break;
      const toSec = this.#toSec[k]!;
      const offCents = this.#cents[k]! - liftCents - written;
      if (!(toSec > atSec - FARTHEST_SEC) || Math.abs(offCents) > PITCH_CENTS) continue;
      const from = HOME + Math.floor(Math.min(fromSec - endSec, fromSec - atSec - ONSET_SEC) / STEP_SEC);
      const to = HOME + Math.ceil(Math.max(toSec - atSec, fromSec - atSec + ONSET_SEC) / STEP_SEC);
      if (from < first) first = Math.max(lowest, from);
      if (to > last) last = Math.min(highest, to);
      for (let state = Math.max(lowest, from); state <= Math.min(highest, to); state++) {
        const late = LATES_SEC[state]!;
        const here = atSec + late;
        soundingSec[state]! += Math.max(0, Math.min(endSec + late, toSec) - Math.max(here, fromSec));
        begins[state] = Math.max(begins[state]!, 1 - Math.abs(fromSec - here) / ONSET_SEC);
      }
    }
    const row = n * STATES;
    this.#rows.fill(1, row, row + STATES);
    const isTied = this.#isTied[n] === 1;
    for (let state = first; state <= last; state++) {
      const late = LATES_SEC[state]!;
      const lengthSec = endSec + late - (atSec + late);
      const covered = Math.min(1, soundingSec[state]! / Math.max(0.05, 0.8 * lengthSec));
      // A note that is repeated is heard as one with the last at times.
      this.#rows[row + state] = 1 - 0.5 * covered - 0.5 * Math.max(begins[state]!, isTied ? 0.8 * covered : 0);
      soundingSec[state] = 0;
      begins[state] = 0;
    }
  }

  #firstAfter(sec: number): number {
    let low = 0;
    let high = this.#lastSec.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.#lastSec[middle]! > sec) high = middle;
      else low = middle + 1;
    }
    return low;
  }
}
