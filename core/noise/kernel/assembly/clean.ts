/**
 * The cleaner's gains for a chunk of frames, as in ../../gain-estimator.ts, which explains the method and is its oracle.
 * Ratios are powers over the noise's power.
 */
import { gather, mirror, posteriorAt, sumAround } from './evidence';
import { allocate, gainOf, Plan, powerOf, slotOf } from './plan';
import { analyse, synthesise } from './stft';
import { add, all, log2, mul, sub } from './vector';

/** Frames whose gains are found together. */
const CHUNK: i32 = 6;
/** Frames behind a chunk whose evidence is complete. */
const BACKWARD: i32 = 3;
const DOUBT: f32 = 0.1;
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
    decide(clean, plan, from + f);
  }
}

// @ts-ignore: decorator
@inline function stepAt(power: usize, evidence: usize, inverse: usize, state: usize, old: v128, fresh: v128, floor: v128): void {
  const mixed = add(mul(old, v128.load(state)), mul(fresh, v128.load(evidence)));
  const wiener = f32x4.div(mixed, add(all(1), mixed));
  const next = mul(mul(wiener, wiener), posteriorAt(power, inverse));
  v128.store(state, v128.and(f32x4.gt(mixed, floor), next));
}

/** One step of the decision-directed recursion with the Wiener gain. Four vectors a turn: twice as fast as one. */
function step(clean: Clean, plan: Plan, frame: i32, state: usize): void {
  const slot = slotOf(plan, frame);
  let power = powerOf(plan, slot);
  let evidence = gainOf(plan, slot);
  let inverse = clean.inverse;
  const old = all(clean.steadiness);
  const fresh = all(1 - clean.steadiness);
  const floor = all(clean.priorFloor);
  const end = state + (<usize>plan.stride << 2);
  for (; state + 64 <= end; power += 64, evidence += 64, inverse += 64, state += 64) {
    stepAt(power, evidence, inverse, state, old, fresh, floor);
    stepAt(power + 16, evidence + 16, inverse + 16, state + 16, old, fresh, floor);
    stepAt(power + 32, evidence + 32, inverse + 32, state + 32, old, fresh, floor);
    stepAt(power + 48, evidence + 48, inverse + 48, state + 48, old, fresh, floor);
  }
  for (; state < end; power += 16, evidence += 16, inverse += 16, state += 16) {
    stepAt(power, evidence, inverse, state, old, fresh, floor);
  }
}

/** The prior from both directions, refined; and the forward state moved on past this frame, as `step` does. */
// @ts-ignore: decorator
@inline function combineAt(
  power: usize, evidence: usize, inverse: usize, forward: usize, backward: usize, around: usize,
  old: v128, fresh: v128, floor: v128,
): void {
  const before = v128.load(forward);
  const behind = v128.load(backward);
  const found = mul(fresh, v128.load(evidence));
  const posterior = posteriorAt(power, inverse);
  const both = add(mul(all(0.25), add(before, behind)), mul(all(0.5), f32x4.sqrt(mul(before, behind))));
  const first = add(mul(old, both), found);
  const refining = f32x4.div(first, add(all(1), first));
  v128.store(around, v128.and(f32x4.gt(first, floor), mul(mul(refining, refining), posterior)));
  const mixed = add(mul(old, before), found);
  const wiener = f32x4.div(mixed, add(all(1), mixed));
  v128.store(forward, v128.and(f32x4.gt(mixed, floor), mul(mul(wiener, wiener), posterior)));
}

/** Prior ratio of a frame from both directions, refined, into `around`; `forward` goes on to the next frame. */
function combine(clean: Clean, plan: Plan, frame: i32, backward: usize): void {
  const slot = slotOf(plan, frame);
  let power = powerOf(plan, slot);
  let evidence = gainOf(plan, slot);
  let inverse = clean.inverse;
  let forward = clean.forward;
  let around = clean.around;
  const old = all(clean.steadiness);
  const fresh = all(1 - clean.steadiness);
  const floor = all(clean.priorFloor);
  const end = around + (<usize>plan.stride << 2);
  while (around + 32 <= end) {
    combineAt(power, evidence, inverse, forward, backward, around, old, fresh, floor);
    combineAt(power + 16, evidence + 16, inverse + 16, forward + 16, backward + 16, around + 16, old, fresh, floor);
    power += 32;
    evidence += 32;
    inverse += 32;
    forward += 32;
    backward += 32;
    around += 32;
  }
  if (around < end) combineAt(power, evidence, inverse, forward, backward, around, old, fresh, floor);
  mirror(clean.around, plan.bins);
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

// @ts-ignore: decorator
@inline function decideAt(
  around: usize, across: usize, power: usize, inverse: usize, gain: usize, floor: v128, least: v128, rule: i32,
): void {
  const here = v128.load(around);
  const sides = add(v128.load(around - 4), v128.load(around + 4));
  const change = sub(mul(all(0.25), sides), mul(all(0.5), here));
  const prior = sub(add(here, mul(v128.load(across), change)), all(DOUBT));
  const above = f32x4.gt(prior, floor);
  if (v128.any_true(above)) {
    let value: v128;
    if (rule == 0) value = lsa(prior, posteriorAt(power, inverse));
    else if (rule == 1) value = f32x4.div(prior, add(all(1), prior));
    else value = subtraction(prior);
    v128.store(gain, v128.bitselect(f32x4.pmin(all(1), f32x4.pmax(least, value)), least, above));
  } else v128.store(gain, least);
}

function decide(clean: Clean, plan: Plan, frame: i32): void {
  const slot = slotOf(plan, frame);
  let power = powerOf(plan, slot);
  let gain = gainOf(plan, slot);
  let inverse = clean.inverse;
  let around = clean.around;
  let across = clean.across;
  const floor = all(clean.priorFloor);
  const least = all(clean.least);
  const rule = clean.rule;
  const end = around + (<usize>plan.stride << 2);
  for (; around < end; around += 16, across += 16, power += 16, inverse += 16, gain += 16) {
    decideAt(around, across, power, inverse, gain, floor, least, rule);
  }
}
