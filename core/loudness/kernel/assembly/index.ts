/**
 * Peak search and figures per frame of core/loudness/peak-interpolator.ts, four frames at a time in single precision.
 * The filters, their numbers and the order of things are those of that file, which is the oracle of this one.
 * All memory is laid out here once; the wrapper, peak-kernel.ts, knows the same addresses. Nothing is allocated.
 */

/** Two work buffers of 4160 samples. */
const WORK: usize = 4096;
const SPARE: usize = 20736;
/** Values midway between frames: 4096 + 3, and room for a last vector. */
const MIDWAY: usize = 37376;
/** Tops between frames, one more before the first. */
const BETWEEN: usize = 53888;
const AT_FRAME: usize = 70400;
/** Greatest magnitude of each cell of 16 frames. */
const CELLS: usize = 86848;
const FIGURES: usize = 88192;

const CELL_FRAMES: i32 = 16;
const WORK_CELLS: i32 = 260;
/** Cells that are interpolated together at most. */
const RUN_CELLS: i32 = 8;

const QUARTER_0: f32 = 0.600064592;
const QUARTER_1: f32 = -0.121581906;
const QUARTER_2: f32 = 0.022309993;
/** 1 / cos(pi / 8). */
const TOP_LIMIT: f32 = 1.0823922;
/** TOP_NORM of peak-interpolator.ts, rounded up by more than single precision can lose. */
const TOP_NORM: f32 = 2.7722;

// @ts-ignore: decorator
@inline function add(a: v128, b: v128): v128 { return f32x4.add(a, b); }
// @ts-ignore: decorator
@inline function sub(a: v128, b: v128): v128 { return f32x4.sub(a, b); }
// @ts-ignore: decorator
@inline function mul(a: v128, b: v128): v128 { return f32x4.mul(a, b); }
// @ts-ignore: decorator
@inline function larger(a: v128, b: v128): v128 { return f32x4.pmax(a, b); }

// @ts-ignore: decorator
@inline function largestLane(a: v128): f32 {
  const pairs = larger(a, v128.shuffle<f32>(a, a, 2, 3, 0, 1));
  return max(f32x4.extract_lane(pairs, 0), f32x4.extract_lane(pairs, 1));
}

/** Greatest magnitude of the last search that is a sample, without the margins. */
let samplePeak: f32 = 0;

/** Greatest magnitude of a sample in the last search. */
export function lastSamplePeak(): f32 {
  return samplePeak;
}

/** Writes count values (rounded up to whole vectors) midway after the frames from `from - 2` on. */
function midways(work: usize, from: i32, count: i32): void {
  let x = work + (<usize>(from - 17) << 2);
  const end = MIDWAY + (<usize>count << 2);
  for (let to = MIDWAY; to < end; to += 16, x += 16) {
    let near = mul(f32x4.splat(0.635315112), add(v128.load(x, 60), v128.load(x, 64)));
    let far = mul(f32x4.splat(-0.208318729), add(v128.load(x, 56), v128.load(x, 68)));
    near = add(near, mul(f32x4.splat(0.120930243), add(v128.load(x, 52), v128.load(x, 72))));
    far = add(far, mul(f32x4.splat(-0.082171888), add(v128.load(x, 48), v128.load(x, 76))));
    near = add(near, mul(f32x4.splat(0.059751271), add(v128.load(x, 44), v128.load(x, 80))));
    far = add(far, mul(f32x4.splat(-0.044887132), add(v128.load(x, 40), v128.load(x, 84))));
    near = add(near, mul(f32x4.splat(0.034218012), add(v128.load(x, 36), v128.load(x, 88))));
    far = add(far, mul(f32x4.splat(-0.026183243), add(v128.load(x, 32), v128.load(x, 92))));
    near = add(near, mul(f32x4.splat(0.019958363), add(v128.load(x, 28), v128.load(x, 96))));
    far = add(far, mul(f32x4.splat(-0.015063026), add(v128.load(x, 24), v128.load(x, 100))));
    near = add(near, mul(f32x4.splat(0.011193139), add(v128.load(x, 20), v128.load(x, 104))));
    far = add(far, mul(f32x4.splat(-0.008141281), add(v128.load(x, 16), v128.load(x, 108))));
    near = add(near, mul(f32x4.splat(0.005755841), add(v128.load(x, 12), v128.load(x, 112))));
    far = add(far, mul(f32x4.splat(-0.003918908), add(v128.load(x, 8), v128.load(x, 116))));
    near = add(near, mul(f32x4.splat(0.002534236), add(v128.load(x, 4), v128.load(x, 120))));
    far = add(far, mul(f32x4.splat(-0.002229452), add(v128.load(x, 0), v128.load(x, 124))));
    v128.store(to, add(near, far));
  }
}

/** Height of the top that a parabola through three neighbours puts near b, at least the magnitude of b. */
// @ts-ignore: decorator
@inline function top(before: v128, b: v128, after: v128): v128 {
  const sign = v128.and(b, i32x4.splat(0x80000000));
  const a = v128.xor(before, sign);
  const c = v128.xor(after, sign);
  const height = v128.xor(b, sign);
  const bend = larger(f32x4.splat(1e-30), sub(sub(add(height, height), a), c));
  const lean = sub(a, c);
  const rise = f32x4.div(mul(lean, lean), mul(f32x4.splat(8), bend));
  const peak = f32x4.pmin(add(height, rise), mul(height, f32x4.splat(TOP_LIMIT)));
  const isTop = v128.and(f32x4.le(a, height), f32x4.le(c, height));
  return v128.bitselect(peak, height, isTop);
}

/**
 * Tops of four frames from the one at x on, m the value midway after it. Returns the greater of both kinds; with
 * `keeps` both are stored as well.
 */
// @ts-ignore: decorator
@inline function tops(x: usize, m: usize, keeps: bool, at: usize): v128 {
  const g0 = f32x4.splat(QUARTER_0);
  const g1 = f32x4.splat(QUARTER_1);
  const g2 = f32x4.splat(QUARTER_2);
  const xBefore = v128.load(x - 4);
  const x0 = v128.load(x);
  const x1 = v128.load(x, 4);
  const x2 = v128.load(x, 8);
  const mBeforeThat = v128.load(m - 8);
  const mBefore = v128.load(m - 4);
  const m0 = v128.load(m);
  const mAfter = v128.load(m, 4);
  const qBefore = add(add(mul(g0, add(mBefore, x0)), mul(g1, add(xBefore, m0))), mul(g2, add(mBeforeThat, x1)));
  const q1 = add(add(mul(g0, add(x0, m0)), mul(g1, add(mBefore, x1))), mul(g2, add(xBefore, mAfter)));
  const q3 = add(add(mul(g0, add(m0, x1)), mul(g1, add(x0, mAfter))), mul(g2, add(mBefore, x2)));
  const atFrame = top(qBefore, x0, q1);
  const between = larger(larger(top(x0, q1, m0), top(q1, m0, q3)), top(m0, q3, x1));
  if (keeps) {
    v128.store(AT_FRAME + at, atFrame);
    v128.store(BETWEEN + at, between, 16);
  }
  return larger(atFrame, between);
}

function measureCells(work: usize): void {
  let greatest: f32 = 0;
  let x = work;
  for (let cell = 0; cell < WORK_CELLS; cell++, x += 64) {
    const a = larger(f32x4.abs(v128.load(x)), f32x4.abs(v128.load(x, 16)));
    const b = larger(f32x4.abs(v128.load(x, 32)), f32x4.abs(v128.load(x, 48)));
    const peak = largestLane(larger(a, b));
    store<f32>(CELLS + (<usize>cell << 2), peak);
    if (cell >= 2 && cell < WORK_CELLS - 2) greatest = max(greatest, peak);
  }
  samplePeak = greatest;
}

// @ts-ignore: decorator
@inline function isHot(cell: i32, needed: f32): bool {
  const at = CELLS + (<usize>cell << 2);
  return load<f32>(at) > needed || load<f32>(at - 4) > needed || load<f32>(at + 4) > needed;
}

/** Greatest top of the 4096 frames after the first margin of 32, or `peak` when none passes it. */
export function search(inSpare: bool, peak: f32): f32 {
  const work = inSpare ? SPARE : WORK;
  measureCells(work);
  let greatest = max(peak, samplePeak);
  let cell = 2;
  while (cell < WORK_CELLS - 2) {
    const needed = greatest / TOP_NORM;
    if (!isHot(cell, needed)) {
      cell++;
      continue;
    }
    const first = cell;
    while (cell < WORK_CELLS - 2 && cell - first < RUN_CELLS && isHot(cell, needed)) cell++;
    const frames = (cell - first) * CELL_FRAMES;
    midways(work, first * CELL_FRAMES, frames + 3);
    let x = work + (<usize>(first * CELL_FRAMES) << 2);
    let found = f32x4.splat(greatest);
    const end = x + (<usize>frames << 2);
    for (let m = MIDWAY + 8; x < end; x += 16, m += 16) found = larger(found, tops(x, m, false, 0));
    greatest = largestLane(found);
  }
  return greatest;
}

/** Below this a sound is none; its products would be denormal numbers, on which every operation is slow. */
const NOTHING: f32 = 1e-30;

/** Greatest magnitude of the first `count` frames of the work buffer. */
function loudest(count: i32): f32 {
  let greatest = f32x4.splat(0);
  const end = WORK + (<usize>(count & ~3) << 2);
  let x = WORK;
  for (; x < end; x += 16) greatest = larger(greatest, f32x4.abs(v128.load(x)));
  let rest = largestLane(greatest);
  for (const last = WORK + (<usize>count << 2); x < last; x += 4) rest = max(rest, abs(load<f32>(x)));
  return rest;
}

/**
 * Figures for the `count` frames (1 to 4096) of the work buffer from frame 17 on: the greatest magnitude strictly between
 * the frame before and the frame after. The work buffer must hold 34 + count frames. `before` is what lies between frame
 * 16 and frame 17; returns what lies after the last frame, for the next call.
 */
export function figures(count: i32, before: f32): f32 {
  const bytes = <usize>count << 2;
  if (loudest(count + 34) < NOTHING) {
    memory.fill(FIGURES, 0, bytes);
    return 0;
  }
  midways(WORK, 17, count + 3);
  for (let at: usize = 0; at < bytes; at += 16) tops(WORK + 68 + at, MIDWAY + 8 + at, true, at);
  store<f32>(BETWEEN, before, 12);
  for (let at: usize = 0; at < bytes; at += 16) {
    const around = larger(v128.load(BETWEEN + at, 12), v128.load(BETWEEN + at, 16));
    v128.store(FIGURES + at, larger(around, v128.load(AT_FRAME + at)));
  }
  return load<f32>(BETWEEN + bytes, 12);
}
