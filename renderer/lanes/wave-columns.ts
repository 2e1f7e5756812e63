/**
 * Waveform columns for the screen, from whatever detail is at hand. A detail holds Int16 values at full scale 32767:
 * single samples (`frames` 1), or pairs lowest, highest per `frames` frames of the take's own rate.
 */
export interface Detail {
  readonly frames: number;
  /** Part `n` of the detail, `partItems` samples or pairs long; undefined while it is not there. */
  part(n: number): Int16Array | undefined;
  readonly partItems: number;
  /** Samples or pairs in all. */
  readonly items: number;
}

/** Lowest and highest value per column, -32768 to 32767; a column that is not known has `low` above `high`. */
export interface Columns {
  readonly low: Int16Array;
  readonly high: Int16Array;
  readonly known: Uint8Array;
}

export function makeColumns(count: number): Columns {
  return { low: new Int16Array(count), high: new Int16Array(count), known: new Uint8Array(count) };
}

/**
 * Fills columns `from` to `to` from the details, best first: what the first does not know yet is taken from the next.
 * Column x covers the take's frames firstFrame + x * framesPerColumn onwards. Columns outside the take stay unknown.
 */
export function fillColumns(
  into: Columns,
  details: readonly Detail[],
  firstFrame: number,
  framesPerColumn: number,
  from: number,
  to: number,
): void {
  into.known.fill(0, from, to);
  for (const detail of details) {
    const missing =
      detail.frames === 1 && framesPerColumn < 4
        ? fillFromSamples(into, detail, firstFrame, framesPerColumn, from, to)
        : fillFromPairs(into, detail, firstFrame, framesPerColumn, from, to);
    if (missing === 0) return;
  }
}

/** Columns of which something is still missing are counted and given back. */
function fillFromPairs(
  into: Columns,
  detail: Detail,
  firstFrame: number,
  framesPerColumn: number,
  from: number,
  to: number,
): number {
  const { low, high, known } = into;
  const { partItems, items } = detail;
  // A sample is its own lowest and highest.
  const width = detail.frames === 1 ? 1 : 2;
  const second = width - 1;
  const perItem = 1 / detail.frames;
  let partNumber = -1;
  let part: Int16Array | undefined;
  let missing = 0;
  for (let x = from; x < to; x++) {
    if (known[x] !== 0) continue;
    const start = (firstFrame + x * framesPerColumn) * perItem;
    let item = Math.floor(start);
    let end = Math.ceil(start + framesPerColumn * perItem);
    if (item < 0) item = 0;
    if (end > items) end = items;
    if (end <= item) continue;
    let lowest = 32767;
    let highest = -32768;
    while (item < end) {
      const wanted = Math.floor(item / partItems);
      if (wanted !== partNumber) {
        partNumber = wanted;
        part = detail.part(wanted);
      }
      if (part === undefined) break;
      const base = partNumber * partItems;
      const last = Math.min(end, base + partItems);
      for (let at = (item - base) * width; item < last; item++, at += width) {
        const a = part[at]!;
        const b = part[at + second]!;
        if (a < lowest) lowest = a;
        if (b > highest) highest = b;
      }
    }
    if (item < end) {
      missing++;
      continue;
    }
    low[x] = lowest;
    high[x] = highest;
    known[x] = 1;
  }
  return missing;
}

/** Close up, the line between neighbouring samples is drawn: a column reaches from its entry to its exit of that line. */
function fillFromSamples(
  into: Columns,
  detail: Detail,
  firstFrame: number,
  framesPerColumn: number,
  from: number,
  to: number,
): number {
  let missing = 0;
  for (let x = from; x < to; x++) {
    if (into.known[x] !== 0) continue;
    const start = firstFrame + x * framesPerColumn;
    const end = start + framesPerColumn;
    if (end < 0 || start > detail.items - 1) continue;
    const a = between(detail, start);
    const b = between(detail, end);
    if (a === undefined || b === undefined) {
      missing++;
      continue;
    }
    let lowest = Math.min(a, b);
    let highest = Math.max(a, b);
    for (let frame = Math.ceil(start); frame < end; frame++) {
      const value = sampleAt(detail, frame) ?? a;
      if (value < lowest) lowest = value;
      if (value > highest) highest = value;
    }
    into.low[x] = Math.round(lowest);
    into.high[x] = Math.round(highest);
    into.known[x] = 1;
  }
  return missing;
}

/** Value of sample `frame`, clamped to the take; undefined while it is not there. */
export function sampleAt(detail: Detail, frame: number): number | undefined {
  const at = Math.max(0, Math.min(detail.items - 1, frame));
  const number = Math.floor(at / detail.partItems);
  return detail.part(number)?.[at - number * detail.partItems];
}

function between(detail: Detail, frame: number): number | undefined {
  const whole = Math.floor(frame);
  const a = sampleAt(detail, whole);
  const b = sampleAt(detail, whole + 1);
  return a === undefined || b === undefined ? undefined : a + (b - a) * (frame - whole);
}
