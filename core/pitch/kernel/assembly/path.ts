/** The likeliest way through the candidates of all frames: core/pitch/pitch-path.ts, which says what its costs are and where they come from. */

import { found, MOST_CANDIDATES, voicing } from './candidates';
import { exp, log, log2 } from './math';
import { ALONE_SHARE, HOLLOW, HZ, OVERLOOKED, PROBABILITY, RECORD, REST, SHARE, STANDING } from './refine';
import { room, tell } from './room';

const GLIDE_FREE_CENTS: f64 = 30;
const GLIDE_CENTS: f64 = 40;
const LEAP: f64 = 8;
const TURN_ON: f64 = 4;
const TURN_OFF: f64 = 4;
const LEAST: f64 = 1e-4;
const TRUST: f64 = 0.2;
const ALONE_WEIGHT: f64 = 6;
const HOLLOW_WEIGHT: f64 = 8;
const OVERLOOKED_WEIGHT: f64 = 8;
const STANDING_FROM: f64 = 2;
const STANDING_SURE: f64 = 3;
const STANDING_VOICING: f64 = 0.97;
const STANDING_WEIGHT: f64 = 1.5;
const SILENT: i32 = MOST_CANDIDATES;
const SETTLE_FRAMES: i32 = 64;
/** Most frames that are open. */
export const MOST_OPEN: i32 = 1024;
/** Settled frames that one call can tell of: the open ones, and those that come to their end meanwhile. */
const MOST_SETTLED: i32 = 2 * MOST_OPEN;

/** Of the open frames eight numbers each: pitches, shares and hollowness of the candidates (double), where the best ways come from (bytes). */
let pitches: usize = 0;
let shares: usize = 0;
let hollows: usize = 0;
let origins: usize = 0;
let way: usize = 0;
let open: i32 = 0;
let isFirst: bool = true;
/** Of the states: cost of the best way to each, that of the frame to come, and pitches of this frame and the one before, cents. */
let costs: usize = 0;
let next: usize = 0;
let cents: usize = 0;
let centsBefore: usize = 0;
let likely: usize = 0;
/** What is settled since `tellPath` was asked last: pitch (NaN: none), share and hollowness. */
export let settledHz: usize = 0;
let settledShares: usize = 0;
let settledHollow: usize = 0;
export let settled: i32 = 0;

export function planPath(): void {
  pitches = room(<usize>MOST_OPEN << 6);
  shares = room(<usize>MOST_OPEN << 6);
  hollows = room(<usize>MOST_OPEN << 6);
  origins = room(<usize>MOST_OPEN << 3);
  way = room(<usize>MOST_OPEN);
  costs = room(64);
  next = room(64);
  cents = room(64);
  centsBefore = room(64);
  likely = room(64);
  settledHz = room(<usize>MOST_SETTLED << 3);
  settledShares = room(<usize>MOST_SETTLED << 3);
  settledHollow = room(<usize>MOST_SETTLED << 3);
}

/** What the caller reads. */
export function tellPath(table: usize): void {
  tell(table, settledHz, settledShares, settledHollow, 0);
}

/** Before frames of another call are added. */
export function beginPath(): void {
  settled = 0;
}

// @ts-ignore: decorator
@inline function at(row: usize, n: i32): f64 { return load<f64>(row + (<usize>n << 3)); }
// @ts-ignore: decorator
@inline function put(row: usize, n: i32, value: f64): void { store<f64>(row + (<usize>n << 3), value); }

/** Adds a frame of `found` candidates. records: see refine.ts; canSound: whether it is loud enough to hold a note at all. */
export function addFrame(records: usize, canSound: bool): void {
  const voiced = judge(records);
  const count = found;
  const sum = at(likely, SILENT);
  const from = origins + (<usize>open << 3);
  const row = <usize>open << 6;
  for (let state = 0; state <= SILENT; state++) {
    let own: f64 = Infinity;
    if (state == SILENT) own = -TRUST * log(max<f64>(LEAST, canSound ? 1 - voiced : 1));
    else if (state < count) {
      put(cents, state, 1200 * log2(load<f64>(records + <usize>state * RECORD, HZ)));
      if (canSound) own = -TRUST * log(max<f64>(LEAST, (voiced * at(likely, state)) / sum));
    }
    const best = own < Infinity ? bestBefore(state, own) : SILENT;
    if (own == Infinity) put(next, state, Infinity);
    store<u8>(from + <usize>state, <u8>best);
  }
  for (let n = 0; n < SILENT; n++) {
    const record = records + <usize>n * RECORD;
    put(pitches + row, n, n < count ? load<f64>(record, HZ) : 0);
    put(shares + row, n, n < count ? load<f64>(record, SHARE) : 0);
    put(hollows + row, n, n < count ? load<f64>(record, HOLLOW) : 0);
    put(centsBefore, n, at(cents, n));
  }
  open++;
  isFirst = false;
  keepSmall();
  if (open % SETTLE_FRAMES == 0) settleShared();
  if (open == MOST_OPEN) settle(likeliest(), open, MOST_OPEN >> 1);
}

/** How likely each candidate is, and their sum behind them; gives how likely there is a pitch. */
function judge(records: usize): f64 {
  const count = found;
  let least: f64 = 1;
  let most: f64 = 0;
  for (let n = 0, record = records; n < count; n++, record += RECORD) {
    least = min<f64>(least, load<f64>(record, REST));
    most = max<f64>(most, load<f64>(record, STANDING));
  }
  let sum: f64 = 1e-12;
  let stands: f64 = 0;
  for (let n = 0, record = records; n < count; n++, record += RECORD) {
    const standing = load<f64>(record, STANDING);
    const clean = least / load<f64>(record, REST);
    const nats =
      STANDING_WEIGHT * (1 - voicing) * (standing - most) -
      ALONE_WEIGHT * load<f64>(record, ALONE_SHARE) -
      HOLLOW_WEIGHT * load<f64>(record, HOLLOW) -
      OVERLOOKED_WEIGHT * load<f64>(record, OVERLOOKED);
    const one = load<f64>(record, PROBABILITY) * (clean * clean) * exp(nats);
    put(likely, n, one);
    sum += one;
    const share = (standing - STANDING_FROM) / (STANDING_SURE - STANDING_FROM);
    stands += one * max<f64>(0, min<f64>(1, share));
  }
  put(likely, SILENT, sum);
  return max<f64>(voicing, (STANDING_VOICING * stands) / sum);
}

/** The state from which the best way to one comes; its cost goes to `next`. own: the state's cost. */
function bestBefore(state: i32, own: f64): i32 {
  let best = SILENT;
  let cost: f64 = isFirst ? 0 : Infinity;
  for (let before = 0; before <= SILENT && !isFirst; before++) {
    const one = at(costs, before) + wayCost(before, state);
    if (one < cost) {
      cost = one;
      best = before;
    }
  }
  put(next, state, cost + own);
  return best;
}

function wayCost(before: i32, state: i32): f64 {
  if (before == SILENT) return state == SILENT ? 0 : TURN_ON;
  if (state == SILENT) return TURN_OFF;
  const cost = abs(at(cents, state) - at(centsBefore, before)) - GLIDE_FREE_CENTS;
  return cost <= 0 ? 0 : min<f64>(LEAP, cost / GLIDE_CENTS);
}

/** Only differences of costs count. */
function keepSmall(): void {
  let lowest: f64 = Infinity;
  for (let n = 0; n <= SILENT; n++) lowest = min<f64>(lowest, at(next, n));
  for (let n = 0; n <= SILENT; n++) put(next, n, at(next, n) - lowest);
  const other = costs;
  costs = next;
  next = other;
}

/** State at the end of the likeliest way. */
function likeliest(): i32 {
  let state = 0;
  for (let n = 1; n <= SILENT; n++) if (at(costs, n) < at(costs, state)) state = n;
  return state;
}

// @ts-ignore: decorator
@inline function cameFrom(frame: i32, state: i32): i32 { return load<u8>(origins + (<usize>frame << 3) + <usize>state); }

/** Settles the frames through which all ways that can still become the likeliest go alike. */
function settleShared(): void {
  // A set of states, a bit each.
  let states = 0;
  for (let n = 0; n <= SILENT; n++) if (at(costs, n) < Infinity) states |= 1 << n;
  for (let frame = open - 1; frame >= 0; frame--) {
    if ((states & (states - 1)) == 0) {
      settle(31 - clz(states), frame + 1, frame + 1);
      return;
    }
    let before = 0;
    for (let n = 0; n <= SILENT; n++) if ((states & (1 << n)) != 0) before |= 1 << cameFrom(frame, n);
    states = before;
  }
}

/** Settles all that is open. */
export function settleRest(): void {
  settle(likeliest(), open, open);
}

/** Follows the way back that is at `state` in the last of the first `known` open frames, and settles the first `count` by it. */
function settle(state: i32, known: i32, count: i32): void {
  for (let frame = known - 1, here = state; frame >= 0; frame--) {
    store<u8>(way + <usize>frame, <u8>here);
    here = cameFrom(frame, here);
  }
  for (let frame = 0; frame < count; frame++) {
    const here = <i32>load<u8>(way + <usize>frame);
    const row = (<usize>frame << 6) + (<usize>here << 3);
    put(settledHz, settled, here < SILENT ? load<f64>(pitches + row) : NaN);
    put(settledShares, settled, here < SILENT ? load<f64>(shares + row) : 0);
    put(settledHollow, settled, here < SILENT ? load<f64>(hollows + row) : 0);
    settled++;
  }
  open -= count;
  memory.copy(pitches, pitches + (<usize>count << 6), <usize>open << 6);
  memory.copy(shares, shares + (<usize>count << 6), <usize>open << 6);
  memory.copy(hollows, hollows + (<usize>count << 6), <usize>open << 6);
  memory.copy(origins, origins + (<usize>count << 3), <usize>open << 3);
}
