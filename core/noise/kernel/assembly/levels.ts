/** Power of a sound in three bands, step by step, as in ../../level-sums.ts, whose plain form is its oracle. */
import { allocate } from './plan';
import { add, all, lanesMax, lanesSum, mul, sub } from './vector';

/** Samples added up at a time. */
const GROUP: i32 = 16;

/** The wrapper reads the first two fields by their order. */
@unmanaged
export class Levels {
  /** Room for samples that wait and `longest` new ones, with a vector to spare in front. */
  samples: usize;
  /** Sums of squares of the finished steps: low, middle, high, one step behind the other. */
  finished: usize;
  stepFrames: i32;
  /** Samples of the step under way that have been added up, and those behind them that wait in `samples`. */
  inStep: i32;
  held: i32;
  steepness: f32;
  previous: f32;
  lowState: f32;
  low: usize;
  middle: usize;
  high: usize;
  peak: usize;
}

/**
 * longest: samples a call may bring at most; stepFrames: a multiple of 4; steepness: of the low pass, at a quarter of the
 * rate.
 */
export function levels(longest: i32, stepFrames: i32, steepness: f32): usize {
  const made = changetype<Levels>(allocate(offsetof<Levels>()));
  made.samples = allocate((<usize>(longest + GROUP) << 2) + 64) + 64;
  made.finished = allocate(<usize>(longest / stepFrames + 1) * 12);
  made.low = allocate(16);
  made.middle = allocate(16);
  made.high = allocate(16);
  made.peak = allocate(16);
  made.stepFrames = stepFrames;
  made.steepness = steepness;
  return changetype<usize>(made);
}

/** Where the next samples go. */
export function levelsInput(levels: Levels): usize {
  return levels.samples + (<usize>levels.held << 2);
}

/**
 * Adds `count` samples from `levelsInput` on. Returns the steps that they finished: see `finished`. Each step is cut into
 * the same groups however the samples come, so that the sums do not depend on it.
 */
export function addLevels(levels: Levels, count: i32): i32 {
  let at = levels.samples;
  let left = levels.held + count;
  store<f32>(at - 4, levels.previous);
  let steps = 0;
  while (true) {
    const room = levels.stepFrames - levels.inStep;
    const now = left >= room ? room : left & ~(GROUP - 1);
    if (now == 0) break;
    addStretch(levels, at, at + (<usize>now << 2));
    at += <usize>now << 2;
    left -= now;
    levels.inStep += now;
    if (levels.inStep == levels.stepFrames) finish(levels, steps++);
  }
  levels.previous = load<f32>(at - 4);
  levels.held = left;
  memory.copy(levels.samples, at, <usize>left << 2);
  return steps;
}

function finish(levels: Levels, step: i32): void {
  const to = levels.finished + <usize>(step * 12);
  store<f32>(to, lanesSum(v128.load(levels.low)));
  store<f32>(to, lanesSum(v128.load(levels.middle)), 4);
  store<f32>(to, lanesSum(v128.load(levels.high)), 8);
  v128.store(levels.low, all(0));
  v128.store(levels.middle, all(0));
  v128.store(levels.high, all(0));
  levels.inStep = 0;
}

/**
 * Sixteen samples at a time, then four. The low pass runs over four sums of four at once: with t = steepness * sum, each
 * lane needs t and what the lanes before it leave over, so that the long wait for the state before comes once, not
 * four times.
 */
function addStretch(levels: Levels, from: usize, to: usize): void {
  const steepness = levels.steepness;
  const keep: f32 = 1 - steepness;
  const once = all(keep);
  const twice = all(keep * keep);
  const powers = f32x4(keep, keep * keep, keep * keep * keep, keep * keep * keep * keep);
  const zero = all(0);
  let low = v128.load(levels.low);
  let middle = v128.load(levels.middle);
  let high = v128.load(levels.high);
  let peak = v128.load(levels.peak);
  let state = all(levels.lowState);
  let at = from;
  for (; at + 64 <= to; at += 64) {
    const a = v128.load(at);
    const b = v128.load(at, 16);
    const c = v128.load(at, 32);
    const d = v128.load(at, 48);
    const aStep = sub(a, v128.load(at - 4));
    const bStep = sub(b, v128.load(at - 4, 16));
    const cStep = sub(c, v128.load(at - 4, 32));
    const dStep = sub(d, v128.load(at - 4, 48));
    high = add(high, add(add(mul(aStep, aStep), mul(bStep, bStep)), add(mul(cStep, cStep), mul(dStep, dStep))));
    const ab = f32x4.pmax(f32x4.abs(a), f32x4.abs(b));
    const cd = f32x4.pmax(f32x4.abs(c), f32x4.abs(d));
    peak = f32x4.pmax(peak, f32x4.pmax(ab, cd));
    const abPairs = add(v128.shuffle<f32>(a, b, 0, 2, 4, 6), v128.shuffle<f32>(a, b, 1, 3, 5, 7));
    const cdPairs = add(v128.shuffle<f32>(c, d, 0, 2, 4, 6), v128.shuffle<f32>(c, d, 1, 3, 5, 7));
    const even = v128.shuffle<f32>(abPairs, cdPairs, 0, 2, 4, 6);
    const four = add(even, v128.shuffle<f32>(abPairs, cdPairs, 1, 3, 5, 7));
    let t = mul(all(steepness), four);
    t = add(t, mul(once, v128.shuffle<f32>(t, zero, 4, 0, 1, 2)));
    t = add(t, mul(twice, v128.shuffle<f32>(t, zero, 4, 4, 0, 1)));
    const passed = add(t, mul(powers, state));
    state = v128.shuffle<f32>(passed, passed, 3, 3, 3, 3);
    const rest = sub(four, passed);
    low = add(low, mul(passed, passed));
    middle = add(middle, mul(rest, rest));
  }
  let lowState = f32x4.extract_lane(state, 0);
  for (; at < to; at += 16) {
    const x = v128.load(at);
    const step = sub(x, v128.load(at - 4));
    high = add(high, mul(step, step));
    peak = f32x4.pmax(peak, f32x4.abs(x));
    const four = lanesSum(x);
    lowState = keep * lowState + steepness * four;
    const rest = four - lowState;
    low = add(low, f32x4(lowState * lowState, 0, 0, 0));
    middle = add(middle, f32x4(rest * rest, 0, 0, 0));
  }
  levels.lowState = lowState;
  v128.store(levels.low, low);
  v128.store(levels.middle, middle);
  v128.store(levels.high, high);
  v128.store(levels.peak, peak);
}

/** Largest magnitude since the last call; what waits counts now, and once more when it is added up. */
export function takePeak(levels: Levels): f32 {
  let peak = lanesMax(v128.load(levels.peak));
  for (let n = 0; n < levels.held; n++) peak = max(peak, abs(load<f32>(levels.samples + (<usize>n << 2))));
  v128.store(levels.peak, all(0));
  return peak;
}
