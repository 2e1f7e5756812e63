import type { BleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { layRises } from './laid-rises.ts';
import { FRAME_SEC, LINES, type Rises } from './trace.ts';

/** Lags to either side, in frames. */
export const REACH = 6;
/** Length of a stretch, reference time, s. */
export const STRETCH_SEC = 4;
/** Rows of the reference kept: those within reach, and some. */
const ROWS = 16;

/** What is compared. */
export interface Compared {
  readonly reference: Rises;
  readonly take: Rises;
  readonly leadSec: number;
  readonly speed: number;
  readonly broad: boolean;
  readonly fromSec: number;
  readonly toSec: number;
}

/** For each stretch of the reference: likeness at each lag, the sum of what frames are off their place, and how many rises those are of. */
export interface OnsetSums {
  readonly table: Float64Array;
  readonly shift: Float64Array;
  readonly entries: Float64Array;
}

/** Adds all frames of a take. kernel: null for plain TypeScript, which gives the same to the last bit. */
export function addOnsets(compared: Compared, sums: OnsetSums, kernel: BleedKernel | null): void {
  if (kernel === null) addAll(compared, sums);
  else addAllIn(kernel, compared, sums);
}

function addAllIn(kernel: BleedKernel, compared: Compared, { table, shift, entries }: OnsetSums): void {
  const { reference, take, leadSec, speed, broad, fromSec, toSec } = compared;
  const [one, other] = [layRises(kernel, 'risesOfOne', reference), layRises(kernel, 'risesOfOther', take)];
  const broadly = broad ? broadSums(reference) : new Float64Array(0);
  const sumsAt = kernel.room('values', 8 * Math.max(1, broadly.length));
  const cacheAt = kernel.room('rises', 4 * ROWS * (LINES + 1));
  const tableAt = kernel.room('onsets', 8 * (table.length + 2 * shift.length));
  const [shiftAt, entriesAt] = [tableAt + 8 * table.length, tableAt + 8 * (table.length + shift.length)];
  kernel.doubles(sumsAt, broadly.length).set(broadly);
  kernel.doubles(tableAt, table.length + 2 * shift.length).fill(0);
  kernel.whole(cacheAt, ROWS).fill(-1);
  kernel.run.compareOnsets(
    one.from,
    one.line,
    one.by,
    one.frames,
    other.from,
    other.line,
    other.by,
    other.frames,
    leadSec,
    speed,
    FRAME_SEC,
    fromSec,
    toSec,
    STRETCH_SEC,
    REACH,
    broad ? sumsAt : 0,
    cacheAt,
    ROWS,
    LINES,
    tableAt,
    shiftAt,
    entriesAt,
  );
  table.set(kernel.doubles(tableAt, table.length));
  shift.set(kernel.doubles(shiftAt, shift.length));
  entries.set(kernel.doubles(entriesAt, entries.length));
}

function addAll({ reference, take, leadSec, speed, broad, fromSec, toSec }: Compared, found: OnsetSums): void {
  const { table, shift, entries } = found;
  const width = 2 * REACH + 1;
  const sums = broad ? broadSums(reference) : undefined;
  const rows = new RiseRows(reference);
  for (let frame = 0; frame < take.frames; frame++) {
    const exact = (frame * FRAME_SEC - leadSec) / speed / FRAME_SEC;
    const base = Math.round(exact);
    const atSec = base * FRAME_SEC;
    if (base < REACH || base + REACH >= reference.frames || atSec < fromSec || atSec > toSec) continue;
    const row = Math.floor(atSec / STRETCH_SEC);
    const from = take.riseFrom[frame]!;
    const to = take.riseFrom[frame + 1]!;
    if (to === from) continue;
    shift[row]! += (exact - base) * (to - from);
    entries[row]! += to - from;
    if (sums) addBroad(table, row * width, sums, base, take, from, to);
    else addLines(table, row * width, rows, base, take, from, to);
  }
}

/** Frames of a reference as rows of LINES numbers, the last ones that were asked for. */
class RiseRows {
  readonly table = new Float32Array(ROWS * LINES);
  readonly #held = new Int32Array(ROWS).fill(-1);
  readonly #rises: Rises;

  constructor(rises: Rises) {
    this.#rises = rises;
  }

  /** Where the row of a frame begins in the table; good until ROWS other frames were asked for. */
  at(frame: number): number {
    const slot = frame % ROWS;
    const from = slot * LINES;
    if (this.#held[slot] === frame) return from;
    const { riseFrom, riseLine, riseBy } = this.#rises;
    this.table.fill(0, from, from + LINES);
    for (let i = riseFrom[frame]!; i < riseFrom[frame + 1]!; i++) this.table[from + riseLine[i]!] = riseBy[i]!;
    this.#held[slot] = frame;
    return from;
  }
}

function addLines(
  table: Float64Array,
  to: number,
  rows: RiseRows,
  base: number,
  take: Rises,
  first: number,
  last: number,
): void {
  for (let lag = 0; lag <= 2 * REACH; lag++) {
    // Later in the take means that the reference's matching rise lies earlier.
    const row = rows.at(base + REACH - lag);
    let sum = table[to + lag]!;
    for (let i = first; i < last; i++) sum += take.riseBy[i]! * rows.table[row + take.riseLine[i]!]!;
    table[to + lag] = sum;
  }
}

/** Sums of a reference are asked for again and again, place by place and take by take. */
const sumsOf = new WeakMap<Rises, Float64Array>();

function broadSums(reference: Rises): Float64Array {
  const known = sumsOf.get(reference) ?? sumBroadly(reference);
  sumsOf.set(reference, known);
  return known;
}

/** Root of what begins in each frame, all lines together. */
function sumBroadly({ frames, riseFrom, riseBy }: Rises): Float64Array {
  const sums = new Float64Array(frames);
  for (let frame = 0; frame < frames; frame++) {
    let sum = 0;
    for (let i = riseFrom[frame]!; i < riseFrom[frame + 1]!; i++) sum += riseBy[i]!;
    sums[frame] = Math.sqrt(sum);
  }
  return sums;
}

function addBroad(
  table: Float64Array,
  to: number,
  sums: Float64Array,
  base: number,
  take: Rises,
  first: number,
  last: number,
): void {
  let sum = 0;
  for (let i = first; i < last; i++) sum += take.riseBy[i]!;
  const by = Math.sqrt(sum);
  for (let lag = 0; lag <= 2 * REACH; lag++) table[to + lag]! += by * sums[base + REACH - lag]!;
}
