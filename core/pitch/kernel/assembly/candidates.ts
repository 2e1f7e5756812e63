/** Periods of a window with the probability that YIN takes each: the sums of core/pitch/candidates.ts in the same order. */

import { pow } from './math';
import { room } from './room';

export const MOST_CANDIDATES: i32 = 5;
/** Steps of the table of the distribution of thresholds. */
const STEPS: i32 = 1000;
/** Share of the thresholds below every dip that still goes to the deepest one. */
const ABSOLUTE_MINIMUM: f64 = 0.01;

/** The distribution, which the caller writes; so many double numbers and one. */
export let thresholds: usize = 0;
export let lags: usize = 0;
export let probabilities: usize = 0;
export let found: i32 = 0;
export let deepest: f64 = 1;
export let voicing: f64 = 0;

export function planCandidates(): void {
  thresholds = room(<usize>(STEPS + 1) << 3);
  lags = room(64);
  probabilities = room(64);
}

/** dips: lags, and depths `depthsBehind` bytes behind them. Fills what is above. */
export function choose(dips: usize, depthsBehind: usize, count: i32): void {
  found = 0;
  let record: f64 = 1;
  let allBelow = below(record);
  for (let n = 0, dip = dips; n < count; n++, dip += 8) {
    const depth = load<f64>(dip + depthsBehind);
    const own = below(depth);
    keep(load<f64>(dip), allBelow - own);
    record = depth;
    allBelow = own;
  }
  deepest = record;
  voicing = count > 0 ? 1 - (1 - ABSOLUTE_MINIMUM) * voicedBelow(record) : 0;
  if (count > 0) raise(load<f64>(dips + (<usize>(count - 1) << 3)), ABSOLUTE_MINIMUM * allBelow);
}

function below(value: f64): f64 {
  return load<f64>(thresholds + (<usize>min(STEPS, <i32>(value * <f64>STEPS + 0.5)) << 3));
}

/** Cumulative distribution of Beta(2, 12). */
function voicedBelow(value: f64): f64 {
  return 1 - pow(1 - value, 12) * (1 + 12 * value);
}

/** Keeps a candidate; where there is no room, instead of the least likely. */
function keep(lag: f64, probability: f64): void {
  let slot = found;
  if (slot == MOST_CANDIDATES) {
    slot = 0;
    for (let n = 1; n < MOST_CANDIDATES; n++) if (probabilityOf(n) < probabilityOf(slot)) slot = n;
    if (probabilityOf(slot) >= probability) return;
  } else found++;
  store<f64>(lags + (<usize>slot << 3), lag);
  store<f64>(probabilities + (<usize>slot << 3), probability);
}

// @ts-ignore: decorator
@inline function probabilityOf(slot: i32): f64 { return load<f64>(probabilities + (<usize>slot << 3)); }

function raise(lag: f64, by: f64): void {
  for (let n = 0; n < found; n++) {
    if (load<f64>(lags + (<usize>n << 3)) != lag) continue;
    store<f64>(probabilities + (<usize>n << 3), probabilityOf(n) + by);
    return;
  }
  keep(lag, by);
}
