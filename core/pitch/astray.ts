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
}

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
  const search = new LatenessSearch(heard, Math.max(0, ...parts.map((notes) => notes.length)));
  let best: { path: Path; wholeCost: number; notes: readonly ExpectedNote[] } | undefined;
  for (const notes of parts) {
    if (notes.length < LEAST_NOTES) continue;
    search.lookFor(notes);
    for (const octave of OCTAVES) {
      throwIfCancelled(cancel);
      const most = best === undefined ? Number.POSITIVE_INFINITY : best.wholeCost / best.notes.length;
      const found = search.run(100 * octave, most, SURE_PART_COST);
      if (found === undefined) continue;
      const { cost, wholeCost } = found;
      if (wholeCost / notes.length < most) best = { path: search.path(), wholeCost, notes };
      if (cost < SURE_PART_COST * notes.length) break;
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
    for (let n = 0, key = Number.NaN; n < notes.length; n++) {
      const note = notes[n]!;
      this.#atSec[n] = note.atSec;
      this.#endSec[n] = note.endSec;
      this.#written[n] = note.cents;
      this.#isTied[n] = note.key === key ? 1 : 0;
      key = note.key;
    }
  }

  /**
   * Searches so many cents above what is written. cost: of the notes where the path has them; wholeCost: with all that the path costs.
   * Undefined as soon as it is sure that wholeCost, a note, is `most` or more and cost `leastCost` or more: then nobody asks for them.
   */
  run(
    liftCents: number,
    most = Number.POSITIVE_INFINITY,
    leastCost = 0,
  ): { readonly cost: number; readonly wholeCost: number } | undefined {
    const count = this.#count;
    this.#before.fill(0);
    let leastAt = 0;
    let leastSum = 0;
    for (let n = 0; n < count; n++) {
      leastSum += this.#costsOf(n, liftCents);
      leastAt = this.#goOn(n, leastAt);
      if (this.#before[leastAt]! / count >= most && leastSum >= leastCost * count) return undefined;
    }
    const wholeCost = this.#before[leastAt]!;
    for (let n = count - 1, state = leastAt; n >= 0; n--) {
      this.#states[n] = state;
      state = this.#ways[n * STATES + state]!;
    }
    let cost = 0;
    for (let n = 0; n < count; n++) cost += this.#rows[n * STATES + this.#states[n]!]!;
    return { cost, wholeCost };
  }

  /** The path that `run` has found. */
  path(): Path {
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
   * What is missing of a note where it is looked for so much later: half for what does not sound, half for where it does not begin. Gives what
   * is missing where that is least.
   */
  #costsOf(n: number, liftCents: number): number {
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
      if (from < first) first = Math.max(0, from);
      if (to > last) last = Math.min(STATES - 1, to);
      for (let state = Math.max(0, from); state <= Math.min(STATES - 1, to); state++) {
        const late = LATES_SEC[state]!;
        const here = atSec + late;
        soundingSec[state]! += Math.max(0, Math.min(endSec + late, toSec) - Math.max(here, fromSec));
        begins[state] = Math.max(begins[state]!, 1 - Math.abs(fromSec - here) / ONSET_SEC);
      }
    }
    const row = n * STATES;
    this.#rows.fill(1, row, row + STATES);
    const isTied = this.#isTied[n] === 1;
    let least = 1;
    for (let state = first; state <= last; state++) {
      const late = LATES_SEC[state]!;
      const lengthSec = endSec + late - (atSec + late);
      const covered = Math.min(1, soundingSec[state]! / Math.max(0.05, 0.8 * lengthSec));
      // A note that is repeated is heard as one with the last at times.
      const cost = 1 - 0.5 * covered - 0.5 * Math.max(begins[state]!, isTied ? 0.8 * covered : 0);
      this.#rows[row + state] = cost;
      if (cost < least) least = cost;
      soundingSec[state] = 0;
      begins[state] = 0;
    }
    return least;
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
