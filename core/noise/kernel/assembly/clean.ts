/**
 * The cleaner's gains for a chunk of frames, as in ../../gain-estimator.ts, which explains the method and is its oracle.
 * Ratios are powers over the noise's power.
 */
import { allocate, gainOf, Plan, powerOf, slotOf } from './plan';
import { analyse, synthesise } from './stft';
import { add, all, log2, mul, sub } from './vector';

/** Frames whose gains are found together. */
const CHUNK: i32 = 6;
/** Frames to each side in which evidence is gathered, and frames behind a chunk whose evidence is complete. */
const REACH: i32 = 2;
const BACKWARD: i32 = 3;
const SUDDEN: f32 = 8;
const LASTING: f32 = 2.2;
const LASTING_WEIGHT: f32 = 2;
const DOUBT: f32 = 0.1;
/** Ratios above it count as this: keeps products within single precision, and gains are 1 long before. */
const LARGEST_RATIO: f32 = 1e9;
const LARGEST_V: f32 = 1e4;
const SUBTRACT_FLOOR: f32 = 0.001;

/** What outlives a chunk, beside the plan's ring; the wrapper reads the first two fields by their order. */
@unmanaged
export class Clean {
  /** 1 / noise power per bin, `stride` floats, set by the caller before each chunk; zeros behind the bins. */
  inverse: usize;
  /** Share of the neighbours' prior that a bin takes over, `stride` floats, set once. */
  across: usize;
  plan: usize;
  forward: usize;
  state: usize;
  /** What the backward estimate says of each frame of the chunk. */
  backward: usize;
  /** Powers added up over the frames around the one at hand. */
  sums: usize;
  zeros: usize;
  /** Room for one array with a vector to spare in front. */
  around: usize;
  steadiness: f32;
  priorFloor: f32;
  least: f32;
  /** 0 log-spectral amplitude, 1 Wiener, 2 subtraction. */
  rule: i32;
  first: i32;
}

/** steadiness, 0 to 1; priorFloor and least (the smallest gain), linear. The plan needs 2 * CHUNK frames in its ring. */
export function clean(plan: Plan, steadiness: f32, priorFloor: f32, least: f32, rule: i32): usize {
  const made = changetype<Clean>(allocate(offsetof<Clean>()));
  const bytes = <usize>plan.stride << 2;
  made.plan = changetype<usize>(plan);
  made.inverse = allocate(bytes);
  made.across = allocate(bytes);
  made.forward = allocate(bytes);
  made.state = allocate(bytes);
  made.backward = allocate(bytes * CHUNK);
  made.sums = allocate(bytes);
  made.zeros = allocate(bytes);
  made.around = allocate(bytes + 64) + 64;
  made.steadiness = steadiness;
  made.priorFloor = priorFloor;
  made.least = least;
  made.rule = rule;
  made.first = 1;
  return changetype<usize>(made);
}

/** Back to the state after `clean`; the plan is reset apart. */
export function resetClean(clean: Clean): void {
  const plan = changetype<Plan>(clean.plan);
  memory.fill(clean.forward, 0, <usize>plan.stride << 2);
  clean.first = 1;
}

/**
 * Takes CHUNK hops of new input; from the second call on gives the CHUNK oldest frames their gains and synthesises them.
 * Returns the frames synthesised.
 */
export function cleanChunk(clean: Clean): i32 {
  const plan = changetype<Plan>(clean.plan);
  if (analyse(plan, CHUNK) == 0) return -1;
  if (plan.analysed - plan.synthesised < 2 * CHUNK) return 0;
  findGains(clean, plan);
  return synthesise(plan, CHUNK);
}

function findGains(clean: Clean, plan: Plan): void {
  const from = plan.synthesised;
  const bytes = <usize>plan.stride << 2;
  const start = from + (clean.first ? 0 : BACKWARD);
  const end = from + CHUNK + BACKWARD;
  sumAround(clean, plan, start, from);
  for (let frame = start; frame < end; frame++) gather(clean, plan, frame, from, frame + 1 < end);
  clean.first = 0;
  memory.fill(clean.state, 0, bytes);
  for (let f = CHUNK + BACKWARD - 1; f >= 0; f--) {
    if (f < CHUNK) memory.copy(clean.backward + <usize>f * bytes, clean.state, bytes);
    step(clean, plan, from + f, clean.state);
  }
  for (let f = 0; f < CHUNK; f++) {
    combine(clean, plan, from + f, clean.backward + <usize>f * bytes);
    step(clean, plan, from + f, clean.forward);
    decide(clean, plan, from + f);
  }
}

// @ts-ignore: decorator
@inline function posteriorAt(power: usize, inverse: usize, k: usize): v128 {
  return f32x4.pmin(all(LARGEST_RATIO), mul(v128.load(power + k), v128.load(inverse + k)));
}

/** The bins outside mirror those inside, for sums over neighbours. */
function mirror(at: usize, bins: i32): void {
  store<f32>(at - 4, load<f32>(at + 4));
  store<f32>(at + (<usize>bins << 2), load<f32>(at + (<usize>(bins - 2) << 2)));
}

/** Sum of the powers of the 5 frames around `frame`, as far as they do not lie before `first`, into `sums`. */
function sumAround(clean: Clean, plan: Plan, frame: i32, first: i32): void {
  const end = <usize>plan.stride << 2;
  const sums = clean.sums;
  memory.fill(sums, 0, end);
  for (let f = max(first, frame - REACH); f <= frame + REACH; f++) {
    const power = powerOf(plan, slotOf(plan, f));
    for (let k: usize = 0; k < end; k += 16) v128.store(sums + k, add(v128.load(sums + k), v128.load(power + k)));
  }
}

/**
 * Evidence of a frame, into its gains. `sums` holds the powers around it, and is moved on to the next frame: what is lost
 * in rounding behind a loud sound stays 60 dB below it, and the sums are made anew for each chunk.
 */
function gather(clean: Clean, plan: Plan, frame: i32, first: i32, moveOn: bool): void {
  const end = <usize>plan.stride << 2;
  const inverse = clean.inverse;
  const around = clean.around;
  const sums = clean.sums;
  const weight = all(1.0 / (3.0 * (2.0 * <f32>REACH + 1.0)));
  const power = powerOf(plan, slotOf(plan, frame));
  for (let k: usize = 0; k < end; k += 16) {
    const mean = mul(v128.load(sums + k), mul(weight, v128.load(inverse + k)));
    v128.store(around + k, f32x4.pmin(all(LARGEST_RATIO), mean));
  }
  if (moveOn) {
    const entering = powerOf(plan, slotOf(plan, frame + REACH + 1));
    const leaves = frame - REACH >= first;
    const leaving = leaves ? powerOf(plan, slotOf(plan, frame - REACH)) : clean.zeros;
    for (let k: usize = 0; k < end; k += 16) {
      const moved = sub(add(v128.load(sums + k), v128.load(entering + k)), v128.load(leaving + k));
      v128.store(sums + k, f32x4.pmax(all(0), moved));
    }
  }
  mirror(around, plan.bins);
  const evidence = gainOf(plan, slotOf(plan, frame));
  for (let k: usize = 0; k < end; k += 16) {
    const wide = add(add(v128.load(around + k - 4), v128.load(around + k)), v128.load(around + k + 4));
    const lasting = mul(all(LASTING_WEIGHT), sub(wide, all(LASTING)));
    const sudden = sub(posteriorAt(power, inverse, k), all(SUDDEN));
    v128.store(evidence + k, f32x4.pmax(f32x4.pmax(lasting, sudden), all(0)));
  }
}

/** One step of the decision-directed recursion with the Wiener gain. */
function step(clean: Clean, plan: Plan, frame: i32, state: usize): void {
  const end = <usize>plan.stride << 2;
  const slot = slotOf(plan, frame);
  const power = powerOf(plan, slot);
  const evidence = gainOf(plan, slot);
  const inverse = clean.inverse;
  const old = all(clean.steadiness);
  const fresh = all(1 - clean.steadiness);
  const floor = all(clean.priorFloor);
  const one = all(1);
  for (let k: usize = 0; k < end; k += 16) {
    const mixed = add(mul(old, v128.load(state + k)), mul(fresh, v128.load(evidence + k)));
    const above = f32x4.gt(mixed, floor);
    let next = all(0);
    if (v128.any_true(above)) {
      const wiener = f32x4.div(mixed, add(one, mixed));
      next = v128.and(above, mul(mul(wiener, wiener), posteriorAt(power, inverse, k)));
    }
    v128.store(state + k, next);
  }
}

/** Prior ratio of a frame from both directions, refined, into `around`. */
function combine(clean: Clean, plan: Plan, frame: i32, backward: usize): void {
  const end = <usize>plan.stride << 2;
  const slot = slotOf(plan, frame);
  const power = powerOf(plan, slot);
  const evidence = gainOf(plan, slot);
  const inverse = clean.inverse;
  const forward = clean.forward;
  const around = clean.around;
  const old = all(clean.steadiness);
  const fresh = all(1 - clean.steadiness);
  const floor = all(clean.priorFloor);
  const one = all(1);
  for (let k: usize = 0; k < end; k += 16) {
    const before = v128.load(forward + k);
    const behind = v128.load(backward + k);
    const found = v128.load(evidence + k);
    let prior = all(0);
    if (v128.any_true(f32x4.gt(add(add(before, behind), found), all(0)))) {
      const root = f32x4.sqrt(mul(before, behind));
      const both = add(mul(all(0.25), add(before, behind)), mul(all(0.5), root));
      const first = add(mul(old, both), mul(fresh, found));
      const wiener = f32x4.div(first, add(one, first));
      const above = f32x4.gt(first, floor);
      prior = v128.and(above, mul(mul(wiener, wiener), posteriorAt(power, inverse, k)));
    }
    v128.store(around + k, prior);
  }
  mirror(around, plan.bins);
}

// @ts-ignore: decorator
@inline function lsa(prior: v128, posterior: v128): v128 {
  const wiener = f32x4.div(prior, add(all(1), prior));
  const v = f32x4.pmin(all(LARGEST_V), f32x4.pmax(all(1e-9), mul(wiener, posterior)));
  let a = sub(all(0.013119120483825523), mul(v, all(0.00036169970881805795)));
  a = add(all(-0.14979509831357393), mul(v, a));
  a = add(all(0.561454398928291), mul(v, a));
  let b = add(all(0.03135797325062365), mul(v, all(0.007496725485472205)));
  b = add(all(0.17732282273348485), mul(v, b));
  b = add(all(0.5138747027998173), mul(v, b));
  b = add(all(1), mul(v, b));
  // sqrt((v + a / b) / v), with one division less.
  return mul(wiener, f32x4.sqrt(add(all(1), f32x4.div(a, mul(b, v)))));
}

// @ts-ignore: decorator
@inline function subtraction(prior: v128): v128 {
  // 10 log10 x = 3.0103 log2 x
  const line = sub(all(4), mul(all(0.15 * 3.010299956639812), log2(prior)));
  const factor = f32x4.pmax(all(1), f32x4.pmin(all(4.75), line));
  const whole = add(all(1), prior);
  return f32x4.sqrt(f32x4.div(f32x4.pmax(all(SUBTRACT_FLOOR), sub(whole, factor)), whole));
}

function decide(clean: Clean, plan: Plan, frame: i32): void {
  const end = <usize>plan.stride << 2;
  const slot = slotOf(plan, frame);
  const power = powerOf(plan, slot);
  const gain = gainOf(plan, slot);
  const inverse = clean.inverse;
  const around = clean.around;
  const across = clean.across;
  const floor = all(clean.priorFloor);
  const least = all(clean.least);
  const rule = clean.rule;
  for (let k: usize = 0; k < end; k += 16) {
    const here = v128.load(around + k);
    const sides = add(v128.load(around + k - 4), v128.load(around + k + 4));
    const change = sub(mul(all(0.25), sides), mul(all(0.5), here));
    const prior = sub(add(here, mul(v128.load(across + k), change)), all(DOUBT));
    const above = f32x4.gt(prior, floor);
    if (!v128.any_true(above)) {
      v128.store(gain + k, least);
      continue;
    }
    let value: v128;
    if (rule == 0) value = lsa(prior, posteriorAt(power, inverse, k));
    else if (rule == 1) value = f32x4.div(prior, add(all(1), prior));
    else value = subtraction(prior);
    v128.store(gain + k, v128.bitselect(f32x4.pmin(all(1), f32x4.pmax(least, value)), least, above));
  }
}
