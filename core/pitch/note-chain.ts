/** What pairing needs of heard notes, in time order: when they begin, s, their pitch, cents, and what one costs that is paired with none. */
export interface HeardRow {
  readonly fromSec: Float64Array;
  readonly cents: Float64Array;
  readonly added: Float64Array;
}

/** Written notes, in time order: pitch, cents, and when they are to begin, s; absent where nothing is known of times. */
export interface WrittenRow {
  readonly cents: Float64Array;
  readonly atSec: Float64Array | undefined;
}

/** What pairs cost: 0.5 (off / pitchCents)^2 + (late / timeSec)^2; farther off than both limits is no pair. A written note left out costs 1. */
export interface PairCosts {
  readonly pitchCents: number;
  readonly farthestCents: number;
  readonly timeSec: number;
  /** Times timeSec; pairs beyond it have to cost more than both notes alone. */
  readonly farthestLate: number;
}

/** Pairs that may be part of the best row, each with the one before it. */
class Pairs {
  heard = new Int32Array(1024);
  written = new Int32Array(1024);
  before = new Int32Array(1024);
  count = 0;

  add(heard: number, written: number, before: number): number {
    if (this.count === this.heard.length) {
      this.heard = longer(this.heard);
      this.written = longer(this.written);
      this.before = longer(this.before);
    }
    this.heard[this.count] = heard;
    this.written[this.count] = written;
    this.before[this.count] = before;
    return this.count++;
  }
}

function longer(row: Int32Array): Int32Array<ArrayBuffer> {
  const larger = new Int32Array(2 * row.length);
  larger.set(row);
  return larger;
}

/**
 * Which heard note is which written one, in order, at the least cost (Needleman and Wunsch 1970). A pair gains what its two notes would
 * cost alone less what it costs itself, so that the best pairing is the row of rising pairs that gains most, which is found from the pairs
 * alone (heaviest common subsequence: Jacobson and Vo 1992, CPM; after Hunt and Szymanski 1977, CACM 20), in place of all of heard times written.
 * Of two that gain the same to the last bit a heard note goes to the earlier written one, and the earlier heard note is taken.
 * alikes: see `alikeNotes`; absent, all written notes that are near in time are looked at, which is as quick where times are known. Out: for each
 * written note the index of its heard note, or null; cost of the whole.
 */
export function pairNotes(
  heard: HeardRow,
  written: WrittenRow,
  costs: PairCosts,
  alikes?: readonly Int32Array[],
): { heardOf: (number | null)[]; cost: number } {
  const { pitchCents, timeSec, farthestCents } = costs;
  const { cents: writtenCents, atSec } = written;
  const count = writtenCents.length;
  const near = nearOf(heard, written, costs.farthestLate * timeSec);
  // What is gained with the written notes up to each one, and the last pair of it; beyond `reach` no more than there.
  const gains = new Float64Array(count + 1);
  const lastPairs = new Int32Array(count + 1).fill(-1);
  const pairs = new Pairs();
  let reach = 0;
  let addedSum = 0;
  for (let i = 0; i < heard.cents.length; i++) {
    const cents = heard.cents[i]!;
    const fromSec = heard.fromSec[i]!;
    const alone = heard.added[i]! + 1;
    addedSum += heard.added[i]!;
    const to = near.to[i]!;
    for (; reach < to; reach++) {
      gains[reach + 1] = gains[reach]!;
      lastPairs[reach + 1] = lastPairs[reach]!;
    }
    const first = near.from[i]!;
    // Up to this written note all is done: the gain without this heard note there, and its last pair; the best gain with it, while that is more.
    let done = first;
    let before = gains[first]!;
    let pairBefore = lastPairs[first]!;
    let own = Number.NEGATIVE_INFINITY;
    let ownPair = -1;
    const alike = alikes?.[i];
    const end = alike === undefined ? to : alike.length;
    for (let at = alike === undefined ? first : firstFrom(alike, first); at < end; at++) {
      const j = alike === undefined ? at : alike[at]!;
      if (j >= to) break;
      if (alike === undefined && !isNear(cents, writtenCents[j]!, farthestCents)) continue;
      while (done < j && own > gains[done + 1]!) {
        before = gains[++done]!;
        pairBefore = lastPairs[done]!;
        gains[done] = own;
        lastPairs[done] = ownPair;
      }
      if (done < j) {
        // Gains rise: what is not more here is not more anywhere after.
        own = Number.NEGATIVE_INFINITY;
        before = gains[j]!;
        pairBefore = lastPairs[j]!;
      }
      const without = gains[j + 1]!;
      const pairWithout = lastPairs[j + 1]!;
      const late = atSec === undefined ? 0 : (fromSec - atSec[j]!) / timeSec;
      const wide = (cents - writtenCents[j]!) / pitchCents;
      const gain = before + alone - 0.5 * wide * wide - late * late;
      if (gain > without && gain > own) {
        own = gain;
        ownPair = pairs.add(i, j, pairBefore);
      }
      if (own > without) {
        gains[j + 1] = own;
        lastPairs[j + 1] = ownPair;
      }
      done = j + 1;
      before = without;
      pairBefore = pairWithout;
    }
    for (let k = done + 1; k <= reach && gains[k]! < own; k++) {
      gains[k] = own;
      lastPairs[k] = ownPair;
    }
  }
  const heardOf = new Array<number | null>(count).fill(null);
  for (let pair = lastPairs[reach]!; pair >= 0; pair = pairs.before[pair]!) {
    heardOf[pairs.written[pair]!] = pairs.heard[pair]!;
  }
  return { heardOf, cost: addedSum + count - gains[reach]! };
}

/**
 * For each heard note the written ones whose pitch is near, in order. To be made once for all pairings of the same two rows; heard notes that
 * are near to the same pitches share one list.
 */
export function alikeNotes(heardCents: Float64Array, writtenCents: Float64Array, farthestCents: number): Int32Array[] {
  // Written notes by pitch, those of one pitch in order.
  const order = new Int32Array(writtenCents.length);
  for (let n = 0; n < order.length; n++) order[n] = n;
  order.sort((a, b) => writtenCents[a]! - writtenCents[b]! || a - b);
  const rising = new Float64Array(order.length);
  for (let n = 0; n < order.length; n++) rising[n] = writtenCents[order[n]!]!;
  const found = new Map<number, Int32Array>();
  const alikes = new Array<Int32Array>(heardCents.length);
  for (let i = 0; i < heardCents.length; i++) {
    const cents = heardCents[i]!;
    const low = firstNear(rising, cents, farthestCents);
    let high = low;
    while (high < rising.length && rising[high]! - cents <= farthestCents) high++;
    const key = low * (rising.length + 1) + high;
    const alike = found.get(key) ?? order.slice(low, high).sort();
    found.set(key, alike);
    alikes[i] = alike;
  }
  return alikes;
}

/** Where a rising row first is not too far below a value. */
function firstNear(rising: Float64Array, value: number, farthest: number): number {
  let [low, high] = [0, rising.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (value - rising[middle]! > farthest) low = middle + 1;
    else high = middle;
  }
  return low;
}

function isNear(cents: number, writtenCents: number, farthestCents: number): boolean {
  return cents - writtenCents <= farthestCents && writtenCents - cents <= farthestCents;
}

/** Where a rising row first is a value or more; its length where it never is. */
function firstFrom(row: Int32Array, value: number): number {
  let [low, high] = [0, row.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (row[middle]! >= value) high = middle;
    else low = middle + 1;
  }
  return low;
}

/** Between which written notes each heard one may lie: all that are near in time, and some more where times do not rise evenly. */
function nearOf(
  heard: HeardRow,
  { cents, atSec }: WrittenRow,
  farthestSec: number,
): { from: Int32Array; to: Int32Array } {
  const count = cents.length;
  const from = new Int32Array(heard.cents.length);
  const to = new Int32Array(heard.cents.length).fill(count);
  if (atSec === undefined) return { from, to };
  const latest = atSec.slice();
  const earliest = atSec.slice();
  for (let j = 1; j < count; j++) latest[j] = Math.max(latest[j]!, latest[j - 1]!);
  for (let j = count - 2; j >= 0; j--) earliest[j] = Math.min(earliest[j]!, earliest[j + 1]!);
  for (let i = 0; i < from.length; i++) {
    from[i] = firstBeyond(latest, heard.fromSec[i]! - farthestSec);
    to[i] = firstBeyond(earliest, heard.fromSec[i]! + farthestSec);
  }
  return { from, to };
}

/** Where a rising row first lies beyond a value; its length where it never does. */
function firstBeyond(row: Float64Array, value: number): number {
  let [low, high] = [0, row.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (row[middle]! > value) high = middle;
    else low = middle + 1;
  }
  return low;
}
