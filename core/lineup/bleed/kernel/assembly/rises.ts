/** Beginnings of notes summed, compared and looked through, as ../../../lag-room.ts, ../../../onset-sums.ts and ../../../music-start.ts do. */

/**
 * Rises of `frames` frames summed over lines `begin` to `end` - 1, a root a frame, without their mean; see ../../../lag-room.ts. next: up to which
 * entry each frame's rises were summed, entries lying in order of their lines.
 */
export function sumBand(
  riseFrom: usize, next: usize, riseLine: usize, riseBy: usize, frames: i32, begin: i32, end: i32, target: usize,
): void {
  let sum: f64 = 0;
  for (let frame = 0; frame < frames; frame++) {
    const to = load<u32>(riseFrom + (<usize>frame << 2), 4);
    const nextAt = next + (<usize>frame << 2);
    let at = load<u32>(nextAt);
    let all: f64 = 0;
    while (at < to && <i32>load<u8>(riseLine + at) < begin) at++;
    for (; at < to && <i32>load<u8>(riseLine + at) < end; at++) all += <f64>load<f32>(riseBy + (<usize>at << 2));
    store<u32>(nextAt, at);
    // A root, so that one loud chord does not decide alone.
    const root = sqrt(all);
    store<f64>(target + (<usize>frame << 3), root);
    sum += root;
  }
  const mean = sum / <f64>max(1, frames);
  for (let frame = 0; frame < frames; frame++) {
    const at = target + (<usize>frame << 3);
    store<f64>(at, load<f64>(at) - mean);
  }
}

/** Adds the product of one spectrum of `bins`, turned round, and another to a sum; the real parts lie first in each, imaginary ones behind them. */
export function addCrossed(sum: usize, one: usize, other: usize, bins: i32): void {
  const bytes = <usize>bins << 3;
  const pairs = <usize>(bins & ~1) << 3;
  let at: usize = 0;
  for (; at < pairs; at += 16) {
    const aRe = v128.load(one + at);
    const aIm = v128.load(one + bytes + at);
    const bRe = v128.load(other + at);
    const bIm = v128.load(other + bytes + at);
    const re = f64x2.add(f64x2.mul(bRe, aRe), f64x2.mul(bIm, aIm));
    const im = f64x2.sub(f64x2.mul(bIm, aRe), f64x2.mul(bRe, aIm));
    v128.store(sum + at, f64x2.add(v128.load(sum + at), re));
    v128.store(sum + bytes + at, f64x2.add(v128.load(sum + bytes + at), im));
  }
  for (; at < bytes; at += 8) {
    const aRe = load<f64>(one + at);
    const aIm = load<f64>(one + bytes + at);
    const bRe = load<f64>(other + at);
    const bIm = load<f64>(other + bytes + at);
    store<f64>(sum + at, load<f64>(sum + at) + (bRe * aRe + bIm * aIm));
    store<f64>(sum + bytes + at, load<f64>(sum + bytes + at) + (bIm * aRe - bRe * aIm));
  }
}

/** The number that would stand at `place` of `count` doubles if all were sorted; leaves them in another order (Hoare 1961, Algorithm 65: Find). */
function smallestBut(values: usize, count: i32, place: i32): f64 {
  let from = 0;
  let to = count - 1;
  while (from < to) {
    const pivot = load<f64>(values + (<usize>((from + to) >> 1) << 3));
    let low = from;
    let high = to;
    while (low <= high) {
      while (load<f64>(values + (<usize>low << 3)) < pivot) low++;
      while (load<f64>(values + (<usize>high << 3)) > pivot) high--;
      if (low > high) break;
      const swapped = load<f64>(values + (<usize>low << 3));
      store<f64>(values + (<usize>low << 3), load<f64>(values + (<usize>high << 3)));
      store<f64>(values + (<usize>high << 3), swapped);
      low++;
      high--;
    }
    if (place <= high) to = high;
    else if (place >= low) from = low;
    else break;
  }
  return load<f64>(values + (<usize>place << 3));
}

/**
 * The highest `most` peaks of `count` of `size` lags that lie in a ring, from `least` (below 0) on, highest first: indexes from there on to
 * `order`, and how many. values, sizes: room for as many; after it the values lie in order, and the first of the sizes is the one at `place`.
 */
export function highestPeaks(
  lags: usize, size: i32, least: i32, count: i32, place: i32, values: usize, sizes: usize, order: usize, most: i32,
): i32 {
  for (let i = 0; i < count; i++) {
    const value = load<f64>(lags + (<usize>((i + least + size) % size) << 3));
    store<f64>(values + (<usize>i << 3), value);
    store<f64>(sizes + (<usize>i << 3), abs(value));
  }
  store<f64>(sizes, smallestBut(sizes, count, place));
  let found = 0;
  for (let i = 1; i + 1 < count; i++) {
    const at = values + (<usize>i << 3);
    const value = load<f64>(at);
    if (!(value > 0 && value >= load<f64>(at - 8) && value > load<f64>(at, 8))) continue;
    let to = found;
    while (to > 0 && load<f64>(values + (<usize>load<i32>(order + (<usize>(to - 1) << 2)) << 3)) < value) to--;
    if (to == most) continue;
    found = min(most, found + 1);
    for (let n = found - 1; n > to; n--) store<i32>(order + (<usize>n << 2), load<i32>(order + (<usize>(n - 1) << 2)));
    store<i32>(order + (<usize>to << 2), i);
  }
  return found;
}

/** As Math.round, without becoming a whole number. */
function roundedDouble(value: f64): f64 {
  const above = ceil(value);
  return above - 0.5 > value ? above - 1 : above;
}

/**
 * Compares a take's rises with a reference's (`One`) about an assumed place, stretch by stretch: see ../../../onset-fit.ts. broadSums: a root a frame of
 * the reference, 0: line by line. cache: `slots` whole numbers of -1, then as many rows of `lines` single-precision numbers.
 */
export function compareOnsets(
  fromOne: usize, lineOne: usize, byOne: usize, framesOne: i32, from: usize, line: usize, by: usize, frames: i32,
  leadSec: f64, speed: f64, frameSec: f64, fromSec: f64, toSec: f64, stretchSec: f64, reach: i32,
  broadSums: usize, cache: usize, slots: i32, lines: i32, table: usize, shift: usize, entries: usize,
): void {
  const width = 2 * reach + 1;
  for (let frame = 0; frame < frames; frame++) {
    const exact = (<f64>frame * frameSec - leadSec) / speed / frameSec;
    const place = roundedDouble(exact);
    const atSec = place * frameSec;
    if (place < <f64>reach || place + <f64>reach >= <f64>framesOne || atSec < fromSec || atSec > toSec) continue;
    const base = <i32>place;
    const first = load<u32>(from + (<usize>frame << 2));
    const last = load<u32>(from + (<usize>frame << 2), 4);
    if (last == first) continue;
    const row = <i32>floor(atSec / stretchSec);
    const count = <f64>(last - first);
    const shiftAt = shift + (<usize>row << 3);
    const entriesAt = entries + (<usize>row << 3);
    store<f64>(shiftAt, load<f64>(shiftAt) + (exact - place) * count);
    store<f64>(entriesAt, load<f64>(entriesAt) + count);
    const to = table + (<usize>(row * width) << 3);
    if (broadSums != 0) {
      let sum: f64 = 0;
      for (let i = first; i < last; i++) sum += <f64>load<f32>(by + (<usize>i << 2));
      const root = sqrt(sum);
      for (let lag = 0; lag < width; lag++) {
        const at = to + (<usize>lag << 3);
        store<f64>(at, load<f64>(at) + root * load<f64>(broadSums + (<usize>(base + reach - lag) << 3)));
      }
      continue;
    }
    for (let lag = 0; lag < width; lag++) {
      // Later in the take means that the reference's matching rise lies earlier.
      const kept = keptRow(fromOne, lineOne, byOne, base + reach - lag, cache, slots, lines);
      const at = to + (<usize>lag << 3);
      let sum = load<f64>(at);
      for (let i = first; i < last; i++) {
        const own = <f64>load<f32>(by + (<usize>i << 2));
        sum += own * <f64>load<f32>(kept + (<usize>load<u8>(line + i) << 2));
      }
      store<f64>(at, sum);
    }
  }
}

/** A frame's rises as a row of `lines` numbers, one of the last ones that were asked for. */
function keptRow(from: usize, line: usize, by: usize, frame: i32, cache: usize, slots: i32, lines: i32): usize {
  const slot = frame % slots;
  const held = cache + (<usize>slot << 2);
  const row = cache + (<usize>(slots + slot * lines) << 2);
  if (load<i32>(held) == frame) return row;
  store<i32>(held, frame);
  memory.fill(row, 0, <usize>lines << 2);
  const last = load<u32>(from + (<usize>frame << 2), 4);
  for (let i = load<u32>(from + (<usize>frame << 2)); i < last; i++) {
    store<f32>(row + (<usize>load<u8>(line + i) << 2), load<f32>(by + (<usize>i << 2)));
  }
  return row;
}

/** The middle one of each of `count` windows of `size` single-precision numbers, which come into another order (Hoare 1961, Algorithm 65: Find). */
export function setMiddles(values: usize, size: i32, count: i32, target: usize): void {
  const place = size >> 1;
  for (let n = 0; n < count; n++, values += <usize>size << 2) {
    let from = 0;
    let to = size - 1;
    while (from < to) {
      const pivot = load<f32>(values + (<usize>((from + to) >> 1) << 2));
      let low = from;
      let high = to;
      while (low <= high) {
        while (load<f32>(values + (<usize>low << 2)) < pivot) low++;
        while (load<f32>(values + (<usize>high << 2)) > pivot) high--;
        if (low > high) break;
        const swapped = load<f32>(values + (<usize>low << 2));
        store<f32>(values + (<usize>low << 2), load<f32>(values + (<usize>high << 2)));
        store<f32>(values + (<usize>high << 2), swapped);
        low++;
        high--;
      }
      if (place <= high) to = high;
      else if (place >= low) from = low;
      else break;
    }
    store<f64>(target + (<usize>n << 3), <f64>load<f32>(values + (<usize>place << 2)));
  }
}
