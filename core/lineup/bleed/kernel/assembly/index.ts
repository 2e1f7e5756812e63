/**
 * What looking for leakage does most, two numbers at a time in double precision: the same sums in the same order as ../../../slow-reader.ts
 * and ../../../shifted-rows.ts, whose plain forms are the oracles, so that the results are the same to the last bit. Addresses are bytes in memory.
 */

export { allocate, widen } from '../../../../signal/kernel/assembly/memory';

/**
 * Reads a line of doubles between its frames: number n of `count` lies at `start` + n * `step` frames of it. taps: rows of `count` filters, one
 * for each of `phases` parts of a frame, tapCount (even) doubles each, the first of which weighs the frame `lead` after the whole one before the place.
 * Two places at a time, each with sums of its own: a processor waits for no sum.
 */
export function readBetween(
  line: usize, start: f64, step: f64, count: i32, taps: usize, tapCount: i32, phases: i32, lead: i32, target: usize,
): void {
  const four = <usize>(tapCount & ~3) << 3;
  const all = <usize>tapCount << 3;
  const origin = line + (<isize>lead << 3);
  for (let n = 0; n < count; n += 2) {
    const at = start + <f64>n * step;
    const whole = floor(at);
    const phase = <i32>floor((at - whole) * <f64>phases + 0.5);
    const from = origin + (<isize>(<i32>whole + i32(phase == phases)) << 3);
    const tap = taps + (phase == phases ? 0 : <usize>phase * all);
    // Behind the last place the first of the two is read once more.
    const at2 = n + 1 < count ? start + <f64>(n + 1) * step : at;
    const whole2 = floor(at2);
    const phase2 = <i32>floor((at2 - whole2) * <f64>phases + 0.5);
    const from2 = origin + (<isize>(<i32>whole2 + i32(phase2 == phases)) << 3);
    const tap2 = taps + (phase2 == phases ? 0 : <usize>phase2 * all);
    let ab = f64x2.splat(0);
    let cd = f64x2.splat(0);
    let ab2 = f64x2.splat(0);
    let cd2 = f64x2.splat(0);
    let k: usize = 0;
    for (; k < four; k += 32) {
      ab = f64x2.add(ab, f64x2.mul(v128.load(tap + k), v128.load(from + k)));
      ab2 = f64x2.add(ab2, f64x2.mul(v128.load(tap2 + k), v128.load(from2 + k)));
      cd = f64x2.add(cd, f64x2.mul(v128.load(tap + k, 16), v128.load(from + k, 16)));
      cd2 = f64x2.add(cd2, f64x2.mul(v128.load(tap2 + k, 16), v128.load(from2 + k, 16)));
    }
    let a = f64x2.extract_lane(ab, 0);
    let a2 = f64x2.extract_lane(ab2, 0);
    for (; k < all; k += 8) {
      a += load<f64>(tap + k) * load<f64>(from + k);
      a2 += load<f64>(tap2 + k) * load<f64>(from2 + k);
    }
    const to = target + (<usize>n << 3);
    store<f64>(to, a + f64x2.extract_lane(ab, 1) + (f64x2.extract_lane(cd, 0) + f64x2.extract_lane(cd, 1)));
    if (n + 1 < count) store<f64>(to, a2 + f64x2.extract_lane(ab2, 1) + (f64x2.extract_lane(cd2, 0) + f64x2.extract_lane(cd2, 1)), 8);
  }
}

/** Adds to line[from..to-1] what a row, moved, has there. */
function addStretch(line: usize, row: usize, shift: i32, width: i32, fromLag: i32, toLag: i32): void {
  const from = max(fromLag, -shift);
  const to = min(toLag, width - shift);
  for (let lag = from; lag < to; lag++) {
    const at = line + (<usize>lag << 3);
    store<f64>(at, load<f64>(at) + load<f64>(row + (<isize>(lag + shift) << 3)));
  }
}

/** Adds `count` rows of `width` doubles, one behind the other, to a line as wide; lag l of it gets lag l + shifts[i] of row i. */
export function addShifted(line: usize, rows: usize, shifts: usize, count: i32, width: i32): void {
  const rowBytes = <usize>width << 3;
  let i = 0;
  for (; i + 3 < count; i += 4, rows += 4 * rowBytes, shifts += 16) {
    const shiftA = load<i32>(shifts);
    const shiftB = load<i32>(shifts, 4);
    const shiftC = load<i32>(shifts, 8);
    const shiftD = load<i32>(shifts, 12);
    // Where all four reach.
    const from = min(width, max(0, -min(min(shiftA, shiftB), min(shiftC, shiftD))));
    const to = max(from, width - max(0, max(max(shiftA, shiftB), max(shiftC, shiftD))));
    const a = rows + (<isize>shiftA << 3);
    const b = rows + rowBytes + (<isize>shiftB << 3);
    const c = rows + 2 * rowBytes + (<isize>shiftC << 3);
    const d = rows + 3 * rowBytes + (<isize>shiftD << 3);
    let at = <usize>from << 3;
    const pairsEnd = at + (<usize>((to - from) & ~1) << 3);
    for (; at < pairsEnd; at += 16) {
      const ab = f64x2.add(v128.load(a + at), v128.load(b + at));
      const cd = f64x2.add(v128.load(c + at), v128.load(d + at));
      v128.store(line + at, f64x2.add(v128.load(line + at), f64x2.add(ab, cd)));
    }
    if (at < <usize>to << 3) {
      const sum = load<f64>(a + at) + load<f64>(b + at) + (load<f64>(c + at) + load<f64>(d + at));
      store<f64>(line + at, load<f64>(line + at) + sum);
    }
    for (let n = 0; n < 4; n++) {
      const shift = load<i32>(shifts + (<usize>n << 2));
      addStretch(line, rows + <usize>n * rowBytes, shift, width, 0, from);
      addStretch(line, rows + <usize>n * rowBytes, shift, width, to, width);
    }
  }
  for (; i < count; i++, rows += rowBytes, shifts += 4) addStretch(line, rows, load<i32>(shifts), width, 0, width);
}

/**
 * Powers of bins 0 to `to` - 1 of a spectrum of `bins`, each the mean over the thirteen bins around it, to `power`; single powers go to `single`,
 * both of which have room for bins + 1 numbers.
 */
export function smoothPower(re: usize, im: usize, bins: i32, to: i32, single: usize, power: usize): void {
  const heard = min(bins, to + 6);
  for (let k = 0; k < heard; k += 2) {
    const at = <usize>k << 3;
    const a = v128.load(re + at);
    const b = v128.load(im + at);
    v128.store(single + at, f64x2.add(f64x2.mul(a, a), f64x2.mul(b, b)));
  }
  let sum: f64 = 0;
  for (let k = 0; k < 6; k++) sum += load<f64>(single + (<usize>k << 3));
  for (let k = 0; k < to; k++) {
    const at = <usize>k << 3;
    if (k + 6 < bins) sum += load<f64>(single + at, 48);
    store<f64>(power + at, max<f64>(sum, 0) / 13);
    if (k >= 6) sum -= load<f64>(single + at - 48);
  }
}

/**
 * From bin `low` on, `count` (and one more, where that is odd) bins of a spectrum times those of another turned round, singleRe and singleIm in single
 * precision from its first on, each over its smoothed power, to the same bins of a target.
 */
export function weighCross(
  re: usize, im: usize, power: usize, low: i32, count: i32, singleRe: usize, singleIm: usize, targetRe: usize, targetIm: usize,
): void {
  const least = f64x2.splat(1e-12);
  const one = f64x2.splat(1);
  for (let n = 0; n < count; n += 2) {
    const at = <usize>(low + n) << 3;
    const weight = f64x2.div(one, f64x2.add(v128.load(power + at), least));
    const gRe = f64x2.promote_low_f32x4(v128.load64_zero(singleRe + (<usize>n << 2)));
    const gIm = f64x2.promote_low_f32x4(v128.load64_zero(singleIm + (<usize>n << 2)));
    const a = v128.load(re + at);
    const b = v128.load(im + at);
    v128.store(targetRe + at, f64x2.mul(weight, f64x2.add(f64x2.mul(a, gRe), f64x2.mul(b, gIm))));
    v128.store(targetIm + at, f64x2.mul(weight, f64x2.sub(f64x2.mul(b, gRe), f64x2.mul(a, gIm))));
  }
}

/** As Math.round: halves go up. */
function rounded(value: f64): i32 {
  const above = ceil(value);
  return <i32>(above - 0.5 > value ? above - 1 : above);
}

/** What a drift makes of `count` times' distances from `atSec`, to the nearest lag. */
function setShifts(shifts: usize, times: usize, count: i32, atSec: f64, ppm: f64, lagHz: f64): void {
  for (let i = 0; i < count; i++) {
    const apart = load<f64>(times + (<usize>i << 3)) - atSec;
    store<i32>(shifts + (<usize>i << 2), rounded(apart * ppm * 1e-6 * lagHz));
  }
}

/** The best point so far: score, value, lag, drift. */
const best = memory.data(32);

/** Looks whether anything on a line of sums is better than the best so far. */
function lookAlong(line: usize, penalty: usize, rareness: f64, width: i32, total: f64, ppm: f64): void {
  // Below it no lag can win, however likely.
  let bar = sqrt(max<f64>(0, 2.0 * total * (load<f64>(best) + rareness)));
  for (let lag = 1; lag + 1 < width; lag++) {
    const value = load<f64>(line + (<usize>lag << 3));
    if (!(value > bar)) continue;
    const score = (0.5 * value * value) / total - load<f64>(penalty + (<usize>lag << 3)) - rareness;
    if (!(score > load<f64>(best))) continue;
    store<f64>(best, score);
    store<f64>(best, value, 8);
    store<f64>(best, <f64>lag, 16);
    store<f64>(best, ppm, 24);
    bar = sqrt(max<f64>(0, 2.0 * total * (score + rareness)));
  }
}

/**
 * The highest point along drifts of -`steps` to `steps` times finePpm: see ../../../shifted-rows.ts. starts: the first row of each group and the end
 * of the last, whole numbers; middles: their times. rareness: one number a drift. Out: where score, value, lag and drift lie.
 */
export function highestAlong(
  rows: usize, width: i32, times: usize, starts: usize, middles: usize, groups: i32, atSec: f64,
  steps: i32, finePpm: f64, coarsePpm: f64, lagHz: f64,
  penalty: usize, rareness: usize, total: f64, sums: usize, line: usize, shifts: usize,
): usize {
  store<f64>(best, -Infinity);
  store<f64>(best, 0, 8);
  store<f64>(best, 1, 16);
  store<f64>(best, 0, 24);
  const bytes = <usize>width << 3;
  let coarse: f64 = NaN;
  for (let step = -steps; step <= steps; step++) {
    const ppm = <f64>step * finePpm;
    const nearest = <f64>rounded(ppm / coarsePpm);
    if (nearest != coarse) {
      memory.fill(sums, 0, bytes * groups);
      for (let n = 0; n < groups; n++) {
        const from = load<i32>(starts + (<usize>n << 2));
        const count = load<i32>(starts + (<usize>n << 2), 4) - from;
        setShifts(shifts, times + (<usize>from << 3), count, load<f64>(middles + (<usize>n << 3)), nearest * coarsePpm, lagHz);
        addShifted(sums + bytes * n, rows + bytes * from, shifts, count, width);
      }
    }
    coarse = nearest;
    setShifts(shifts, middles, groups, atSec, ppm, lagHz);
    memory.fill(line, 0, bytes);
    addShifted(line, sums, shifts, groups, width);
    lookAlong(line, penalty, load<f64>(rareness + (<usize>(step + steps) << 3)), width, total, ppm);
  }
  return best;
}

/** A row of doubles at a fractional place: see cubicAt in ../../../cubic-row.ts. */
function cubicAt(row: usize, width: i32, at: f64): f64 {
  const floored = floor(at);
  if (!(floored >= 1) || !(floored + 2 < <f64>width)) return 0;
  const t = at - floored;
  const from = row + (<usize>(<i32>floored) << 3);
  const a = load<f64>(from - 8);
  const b = load<f64>(from);
  const c = load<f64>(from, 8);
  const d = load<f64>(from, 16);
  return b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)));
}

/** `count` rows of `width` doubles read where a line goes through them, summed: row i at `lag` + what `ppm` makes of apartSec[i]. */
export function sumOnLine(
  rows: usize, apartSec: usize, count: i32, width: i32, lag: f64, ppm: f64, lagHz: f64,
): f64 {
  let sum: f64 = 0;
  for (let i = 0; i < count; i++) {
    const apart = load<f64>(apartSec + (<usize>i << 3));
    sum += cubicAt(rows + ((<usize>i * <usize>width) << 3), width, lag + apart * ppm * 1e-6 * lagHz);
  }
  return sum;
}

/** Adds to each lag of a line of `width` doubles what a row of `rowWidth` has `shift` lags after it. */
export function addCubic(line: usize, row: usize, rowWidth: i32, shift: f64, width: i32): void {
  for (let lag = 0; lag < width; lag++) {
    const at = line + (<usize>lag << 3);
    store<f64>(at, load<f64>(at) + cubicAt(row, rowWidth, <f64>lag + shift));
  }
}

/** The first of the greatest. */
function highest(values: usize, width: i32): i32 {
  let best = 0;
  let most = load<f64>(values);
  for (let n = 1; n < width; n++) {
    const value = load<f64>(values + (<usize>n << 3));
    if (!(value > most)) continue;
    most = value;
    best = n;
  }
  return best;
}

/** Best way to one lag: from those within `reach` at a cost, else by a jump from the best of all. */
function arriveAt(
  lag: i32, score: usize, next: usize, came: usize, width: i32, costs: usize, reach: i32, jumped: f64, best: i32,
): void {
  let most = jumped;
  let from = best;
  const to = min(width - 1, lag + reach);
  for (let other = max(0, lag - reach); other <= to; other++) {
    const value = load<f64>(score + (<usize>other << 3)) - load<f64>(costs + (<usize>abs(lag - other) << 3));
    if (!(value > most)) continue;
    most = value;
    from = other;
  }
  store<f64>(next + (<usize>lag << 3), most);
  store<i32>(came + (<usize>lag << 2), from);
}

/**
 * One step of the likeliest path through `width` lags (see ../../../lag-scores.ts): from the scores so far to those after it, and from which lag each
 * came; costs: of straying by 0 to `reach` lags. A negative reach: the first step, which comes from nowhere and only takes the scores over. Then
 * `row` is added, times `gain` less `against`, and no less than `least`.
 */
export function goOn(
  score: usize, next: usize, came: usize, width: i32, costs: usize, reach: i32, jumpCost: f64,
  row: usize, gain: f64, against: f64, least: f64,
): void {
  if (reach >= 0) {
    const best = highest(score, width);
    const jumped = load<f64>(score + (<usize>best << 3)) - jumpCost;
    const inner = max(min(reach, width), 0);
    let lag = 0;
    for (; lag < inner; lag++) arriveAt(lag, score, next, came, width, costs, reach, jumped, best);
    for (; lag + 1 + reach < width; lag += 2) {
      let most = f64x2.splat(jumped);
      let from = i64x2.splat(best);
      let other = i64x2.add(i64x2.splat(lag - reach), i64x2(0, 1));
      const one = i64x2.splat(1);
      let at = score + (<usize>(lag - reach) << 3);
      for (let apart = -reach; apart <= reach; apart++, at += 8) {
        const value = f64x2.sub(v128.load(at), v128.load64_splat(costs + (<usize>abs(apart) << 3)));
        const more = f64x2.gt(value, most);
        most = v128.bitselect(value, most, more);
        from = v128.bitselect(other, from, more);
        other = i64x2.add(other, one);
      }
      v128.store(next + (<usize>lag << 3), most);
      store<i32>(came + (<usize>lag << 2), <i32>i64x2.extract_lane(from, 0));
      store<i32>(came + (<usize>lag << 2), <i32>i64x2.extract_lane(from, 1), 4);
    }
    for (; lag < width; lag++) arriveAt(lag, score, next, came, width, costs, reach, jumped, best);
  } else memory.copy(next, score, <usize>width << 3);
  for (let lag = 0; lag < width; lag++) {
    const at = <usize>lag << 3;
    store<f64>(next + at, load<f64>(next + at) + max<f64>(least, gain * load<f64>(row + at) - against));
  }
}

/** The first of the greatest of `width` doubles. */
export function placeOfHighest(values: usize, width: i32): i32 {
  return highest(values, width);
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
