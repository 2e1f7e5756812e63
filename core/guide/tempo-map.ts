import { assertInRange } from '../signal/fault.ts';
import type { Hold, TempoMark } from './score.ts';

/** A stretch of one law of tempo. */
interface Stretch {
  readonly fromQuarters: number;
  readonly fromSec: number;
  /** Seconds the score waits at `fromQuarters` before it goes on. */
  readonly waitSec: number;
  readonly quartersPerMinute: number;
  /** Change of the tempo, quarters per minute each quarter. */
  readonly slope: number;
}

/** Slowest and fastest tempo that is taken, quarter notes per minute. */
const SLOWEST = 5;
const FASTEST = 1000;

/**
 * Score position to time and back. Between marks the tempo v (quarters per minute) is constant or changes evenly over the
 * score's position q: v(q) = a + b (q - q0), whose integral is t = (60 / b) ln(1 + b (q - q0) / a). A fermata adds its
 * seconds at its position. Positions before 0 go on at the first tempo, those past the last mark at the last.
 * Memory: five numbers a mark.
 */
export class TempoMap {
  readonly #stretches: readonly Stretch[];

  /** Throws RangeError when there is no mark, or a tempo outside 5 to 1000 quarters per minute. */
  constructor(marks: readonly TempoMark[], holds: readonly Hold[] = []) {
    if (marks.length === 0) throw new RangeError('marks is empty; a tempo is needed');
    for (const mark of marks) assertInRange('quartersPerMinute', mark.quartersPerMinute, SLOWEST, FASTEST);
    for (const hold of holds) assertInRange('sec', hold.sec, 0, 3600);
    this.#stretches = stretchesOf(inOrder(marks), holds);
  }

  /** Seconds from score position 0 at which a position sounds; negative before it. */
  secAt(quarters: number): number {
    const at = this.#lastWhere((one) => one.fromQuarters <= quarters);
    const stretch = this.#stretches[at]!;
    const way = quarters - stretch.fromQuarters;
    return stretch.fromSec + (way < 0 ? 0 : stretch.waitSec) + secondsFor(stretch, way);
  }

  /** The position that sounds at a time; during a fermata the position it waits at. */
  quartersAt(sec: number): number {
    const at = this.#lastWhere((one) => one.fromSec <= sec);
    const stretch = this.#stretches[at]!;
    const since = sec - stretch.fromSec;
    if (since >= 0 && since <= stretch.waitSec) return stretch.fromQuarters;
    return stretch.fromQuarters + quartersFor(stretch, since < 0 ? since : since - stretch.waitSec);
  }

  /** Quarters per minute at a position. */
  tempoAt(quarters: number): number {
    const stretch = this.#stretches[this.#lastWhere((one) => one.fromQuarters <= quarters)]!;
    return stretch.quartersPerMinute + stretch.slope * Math.max(0, quarters - stretch.fromQuarters);
  }

  #lastWhere(holds: (stretch: Stretch) => boolean): number {
    let low = 0;
    let high = this.#stretches.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (holds(this.#stretches[middle]!)) low = middle;
      else high = middle - 1;
    }
    return low;
  }
}

/** Sorted by position; of marks at one position the last counts. The first holds from position 0 on. */
function inOrder(marks: readonly TempoMark[]): TempoMark[] {
  const sorted = [...marks].sort((a, b) => a.atQuarters - b.atQuarters);
  const last = sorted.filter((mark, at) => sorted[at + 1]?.atQuarters !== mark.atQuarters);
  const first = last[0]!;
  return first.atQuarters > 0 ? [{ ...first, atQuarters: 0, glides: false }, ...last] : last;
}

function stretchesOf(marks: readonly TempoMark[], holds: readonly Hold[]): Stretch[] {
  const waits = new Map<number, number>();
  for (const hold of holds) waits.set(hold.atQuarters, (waits.get(hold.atQuarters) ?? 0) + hold.sec);
  const cuts = [...new Set([...marks.map((mark) => mark.atQuarters), ...waits.keys()])].sort((a, b) => a - b);
  const stretches: Stretch[] = [];
  let at = -1;
  for (const fromQuarters of cuts) {
    while (at + 1 < marks.length && marks[at + 1]!.atQuarters <= fromQuarters) at++;
    const mark = marks[Math.max(0, at)]!;
    const next = marks[Math.max(0, at) + 1];
    const slope =
      mark.glides && next !== undefined
        ? (next.quartersPerMinute - mark.quartersPerMinute) / (next.atQuarters - mark.atQuarters)
        : 0;
    const before = stretches.at(-1);
    const way = before === undefined ? 0 : fromQuarters - before.fromQuarters;
    stretches.push({
      fromQuarters,
      fromSec:
        before === undefined
          ? secondsBeforeFirst(fromQuarters, mark)
          : before.fromSec + before.waitSec + secondsFor(before, way),
      waitSec: waits.get(fromQuarters) ?? 0,
      quartersPerMinute: mark.quartersPerMinute + slope * Math.max(0, fromQuarters - mark.atQuarters),
      slope,
    });
  }
  return stretches;
}

/** Where the first cut lies when position 0 is at 0 s: the tempo before it is that of the first mark. */
function secondsBeforeFirst(fromQuarters: number, mark: TempoMark): number {
  return (60 * fromQuarters) / mark.quartersPerMinute;
}

/** Seconds over `way` quarters from a stretch's beginning, its waiting left out. Before it the tempo stands still. */
function secondsFor(stretch: Stretch, way: number): number {
  const { quartersPerMinute, slope } = stretch;
  const bend = (slope * way) / quartersPerMinute;
  // ln(1 + x) / x is 1 for no bend; log1p keeps all digits of a small one.
  const shape = way <= 0 || bend === 0 ? 1 : Math.log1p(bend) / bend;
  return ((60 * way) / quartersPerMinute) * shape;
}

function quartersFor(stretch: Stretch, sec: number): number {
  const { quartersPerMinute, slope } = stretch;
  const bend = (slope * sec) / 60;
  const shape = sec <= 0 || bend === 0 ? 1 : Math.expm1(bend) / bend;
  return ((sec * quartersPerMinute) / 60) * shape;
}
