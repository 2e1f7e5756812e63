/** Rows of lags moved, added up and read between lags, as ../../../shifted-rows.ts and ../../../cubic-row.ts do. */

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
