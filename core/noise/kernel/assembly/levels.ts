/** Power of a sound in three bands, as in ../../level-track.ts, which is its oracle. */
import { allocate } from './plan';
import { add, lanesMax, lanesSum, mul, sub } from './vector';

/** The wrapper reads the first four fields by their order. */
@unmanaged
export class Levels {
  /** Room for `longest` samples, with a vector to spare in front. */
  samples: usize;
  /** Sums of squares since the last `takeLevels`. */
  low: f32;
  middle: f32;
  high: f32;
  steepness: f32;
  previous: f32;
  lowState: f32;
  highLanes: usize;
  peakLanes: usize;
}

/** longest: samples a call may bring at most, a multiple of 4; steepness: of the low pass, at a quarter of the rate. */
export function levels(longest: i32, steepness: f32): usize {
  const made = changetype<Levels>(allocate(offsetof<Levels>()));
  made.samples = allocate((<usize>longest << 2) + 64) + 64;
  made.highLanes = allocate(16);
  made.peakLanes = allocate(16);
  made.steepness = steepness;
  return changetype<usize>(made);
}

/** Adds `count` samples, a multiple of 4. Sums go lane by lane, so that they do not depend on the cuts. */
export function addLevels(levels: Levels, count: i32): void {
  const steepness = levels.steepness;
  let at = levels.samples;
  const end = at + (<usize>count << 2);
  let lowState = levels.lowState;
  let low = levels.low;
  let middle = levels.middle;
  let high = v128.load(levels.highLanes);
  let peak = v128.load(levels.peakLanes);
  store<f32>(at - 4, levels.previous);
  while (at < end) {
    const x = v128.load(at);
    const change = sub(x, v128.load(at - 4));
    high = add(high, mul(change, change));
    peak = f32x4.pmax(peak, f32x4.abs(x));
    const four = lanesSum(x);
    lowState += steepness * (four - lowState);
    const rest = four - lowState;
    low += lowState * lowState;
    middle += rest * rest;
    at += 16;
  }
  levels.previous = load<f32>(end - 4);
  levels.lowState = lowState;
  levels.low = low;
  levels.middle = middle;
  v128.store(levels.highLanes, high);
  v128.store(levels.peakLanes, peak);
}

/** Writes `high` and begins a new sum; `low` and `middle` are to be read, then cleared by the caller. */
export function takeLevels(levels: Levels): void {
  levels.high = lanesSum(v128.load(levels.highLanes));
  v128.store(levels.highLanes, f32x4.splat(0));
}

/** Largest magnitude since the last call. */
export function takePeak(levels: Levels): f32 {
  const peak = lanesMax(v128.load(levels.peakLanes));
  v128.store(levels.peakLanes, f32x4.splat(0));
  return peak;
}
