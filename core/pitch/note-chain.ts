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
 * Out: for each written note the index of its heard note, or null; cost of the whole.
 */
export function pairNotes(
  heard: HeardRow,
  written: WrittenRow,
  costs: PairCosts,
): { heardOf: (number | null)[]; cost: number } {
  const { pitchCents, farthestCents, timeSec } = costs;
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
    // The gain without this note up to the last written one; the best with it so far, and its pair.
    let before = gains[near.from[i]!]!;
    let pairBefore = lastPairs[near.from[i]!]!;
    let own = Number.NEGATIVE_INFINITY;
    let ownPair = -1;
    for (let j = near.from[i]!; j < to; j++) {
      const without = gains[j + 1]!;
      const pairWithout = lastPairs[j + 1]!;
      const off = Math.abs(cents - writtenCents[j]!);
      if (off <= farthestCents) {
        const late = atSec === undefined ? 0 : (fromSec - atSec[j]!) / timeSec;
        const wide = off / pitchCents;
        const gain = before + alone - 0.5 * wide * wide - late * late;
        if (gain > without && gain > own) {
          own = gain;
          ownPair = pairs.add(i, j, pairBefore);
        }
      }
      if (own > without) {
        gains[j + 1] = own;
        lastPairs[j + 1] = ownPair;
      }
      before = without;
      pairBefore = pairWithout;
    }
    for (let k = to + 1; k <= reach && gains[k]! < own; k++) {
      gains[k] = own;
      lastPairs[k] = ownPair;
    }
  }
  const heardOf: (number | null)[] = Array.from({ length: count }, () => null);
  for (let pair = lastPairs[reach]!; pair >= 0; pair = pairs.before[pair]!) {
    heardOf[pairs.written[pair]!] = pairs.heard[pair]!;
  }
  return { heardOf, cost: addedSum + count - gains[reach]! };
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
  const latest = Float64Array.from(atSec);
  const earliest = Float64Array.from(atSec);
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
