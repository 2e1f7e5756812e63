import type { Columns } from '../../lanes/wave-columns.ts';

/** Stands for no pitch in a curve, as in core/pitch/off-curve.ts. */
const NO_PITCH = -32768;
const HEAD_BYTES = 16;
/** Each level holds the lowest and highest of so many items of the one before. */
const FOLD = 4;

/** How far a voice's pitch lies from the wanted one, for any zoom. Tenths of a cent. */
export interface PitchCurve {
  /** Session time of the first value, and from one to the next, s. */
  readonly fromSec: number;
  readonly hopSec: number;
  readonly tenths: Int16Array;
  /** Pairs lowest, highest of 4, 16, 64 ... values; lowest above highest where there is none. */
  readonly levels: readonly Int16Array[];
}

/** A curve as the desk hands it out; null for what is none. */
export function readCurve(bytes: ArrayBuffer): PitchCurve | null {
  if (bytes.byteLength < HEAD_BYTES) return null;
  const view = new DataView(bytes);
  const fromSec = view.getFloat64(0, true);
  const hopSec = view.getFloat64(8, true);
  if (!Number.isFinite(fromSec) || !(hopSec > 0)) return null;
  const tenths = new Int16Array((bytes.byteLength - HEAD_BYTES) >> 1);
  for (let n = 0; n < tenths.length; n++) tenths[n] = view.getInt16(HEAD_BYTES + 2 * n, true);
  return curveOf(fromSec, hopSec, tenths);
}

/** A curve with its levels. */
export function curveOf(fromSec: number, hopSec: number, tenths: Int16Array): PitchCurve {
  const levels: Int16Array[] = [];
  let count = Math.ceil(tenths.length / FOLD);
  let before: Int16Array | null = null;
  while (count > 8) {
    const pairs = new Int16Array(2 * count);
    for (let n = 0; n < count; n++) {
      let low = 32767;
      let high = -32767;
      const items: number = before === null ? tenths.length : before.length >> 1;
      const end = Math.min(items, FOLD * (n + 1));
      for (let at = FOLD * n; at < end; at++) {
        const one = before === null ? tenths[at]! : before[2 * at]!;
        const other = before === null ? one : before[2 * at + 1]!;
        if (one === NO_PITCH || one > other) continue;
        if (one < low) low = one;
        if (other > high) high = other;
      }
      pairs[2 * n] = low;
      pairs[2 * n + 1] = high;
    }
    levels.push(pairs);
    before = pairs;
    count = Math.ceil(count / FOLD);
  }
  return { fromSec, hopSec, tenths, levels };
}

/**
 * Fills columns 0 to `width` with the reach of a curve in tenths of a cent; column x covers the session time from
 * firstSec + x secPerColumn on. shift: tenths of a cent added at a session time. Neighbouring columns of one note touch.
 */
export function fillPitch(
  into: Columns,
  curve: PitchCurve,
  firstSec: number,
  secPerColumn: number,
  width: number,
  shift: ((sec: number) => number) | null,
): void {
  into.known.fill(0, 0, width);
  const perColumn = secPerColumn / curve.hopSec;
  const start = (firstSec - curve.fromSec) / curve.hopSec;
  const from = Math.max(0, Math.floor(-start / perColumn));
  const to = Math.min(width, Math.ceil((curve.tenths.length - start) / perColumn));
  const rank = Math.min(curve.levels.length, Math.floor(Math.log(Math.max(1, perColumn)) / Math.log(FOLD)));
  const level = rank === 0 ? null : curve.levels[rank - 1]!;
  const size = FOLD ** rank;
  let lastLow = NO_PITCH;
  let lastHigh = NO_PITCH;
  for (let x = from; x < to; x++) {
    const first = start + x * perColumn;
    let low = 32767;
    let high = -32767;
    if (level === null) {
      const one = between(curve.tenths, first);
      if (one !== NO_PITCH) {
        low = one;
        high = one;
      }
      for (let n = Math.max(0, Math.ceil(first)); n < Math.min(curve.tenths.length, first + perColumn); n++) {
        const value = curve.tenths[n]!;
        if (value === NO_PITCH) continue;
        if (value < low) low = value;
        if (value > high) high = value;
      }
    } else {
      const end = Math.min(level.length >> 1, Math.ceil((first + perColumn) / size));
      for (let n = Math.max(0, Math.floor(first / size)); n < end; n++) {
        if (level[2 * n]! < low) low = level[2 * n]!;
        if (level[2 * n + 1]! > high) high = level[2 * n + 1]!;
      }
    }
    if (low > high) {
      lastLow = NO_PITCH;
      continue;
    }
    // A gap between two columns is bridged by the later one.
    const joinsLow = lastLow === NO_PITCH ? low : Math.min(low, lastHigh);
    const joinsHigh = lastLow === NO_PITCH ? high : Math.max(high, lastLow);
    lastLow = low;
    lastHigh = high;
    const more = shift === null ? 0 : shift(firstSec + (x + 0.5) * secPerColumn);
    into.low[x] = joinsLow + more;
    into.high[x] = joinsHigh + more;
    into.known[x] = 1;
  }
}

/** The value at a place between two; none where either has none. */
function between(tenths: Int16Array, at: number): number {
  const n = Math.floor(at);
  const one = tenths[n] ?? NO_PITCH;
  const next = tenths[n + 1] ?? one;
  if (one === NO_PITCH || next === NO_PITCH) return one;
  return one + (at - n) * (next - one);
}
