/** Evidence for music, as in ../../gain-estimator.ts, and the sums it stands on. Loops take four vectors a turn. */
import { Clean } from './clean';
import { gainOf, Plan, powerOf, slotOf } from './plan';
import { add, all, mul, sub } from './vector';

/** Frames to each side in which evidence is gathered. */
const REACH: i32 = 2;
const SUDDEN: f32 = 8;
const LASTING: f32 = 2.2;
const LASTING_WEIGHT: f32 = 2;
/** Ratios above it count as this: keeps products within single precision, and gains are 1 long before. */
const LARGEST_RATIO: f32 = 1e9;

// @ts-ignore: decorator
@inline export function posteriorAt(power: usize, inverse: usize): v128 {
  return f32x4.pmin(all(LARGEST_RATIO), mul(v128.load(power), v128.load(inverse)));
}

/** The bins outside mirror those inside, for sums over neighbours. */
export function mirror(at: usize, bins: i32): void {
  store<f32>(at - 4, load<f32>(at + 4));
  store<f32>(at + (<usize>bins << 2), load<f32>(at + (<usize>(bins - 2) << 2)));
}

/** Sum of the powers of the 5 frames around `frame`, as far as they do not lie before `first`, into `sums`. */
export function sumAround(clean: Clean, plan: Plan, frame: i32, first: i32): void {
  const end = <usize>plan.stride << 2;
  const sums = clean.sums;
  memory.fill(sums, 0, end);
  for (let f = max(first, frame - REACH); f <= frame + REACH; f++) {
    const power = powerOf(plan, slotOf(plan, f));
    for (let k: usize = 0; k < end; k += 16) v128.store(sums + k, add(v128.load(sums + k), v128.load(power + k)));
  }
}

// @ts-ignore: decorator
@inline function meanAt(sums: usize, inverse: usize, around: usize, weight: v128): void {
  const mean = mul(v128.load(sums), mul(weight, v128.load(inverse)));
  v128.store(around, f32x4.pmin(all(LARGEST_RATIO), mean));
}

// @ts-ignore: decorator
@inline function moveAt(sums: usize, entering: usize, leaving: usize): void {
  const moved = sub(add(v128.load(sums), v128.load(entering)), v128.load(leaving));
  v128.store(sums, f32x4.pmax(all(0), moved));
}

// @ts-ignore: decorator
@inline function evidenceAt(around: usize, power: usize, inverse: usize, evidence: usize): void {
  const wide = add(add(v128.load(around - 4), v128.load(around)), v128.load(around + 4));
  const lasting = mul(all(LASTING_WEIGHT), sub(wide, all(LASTING)));
  const sudden = sub(posteriorAt(power, inverse), all(SUDDEN));
  v128.store(evidence, f32x4.pmax(f32x4.pmax(lasting, sudden), all(0)));
}

/**
 * Evidence of a frame, into its gains. `sums` holds the powers around it, and is moved on to the next frame: what is lost
 * in rounding behind a loud sound stays 60 dB below it, and the sums are made anew for each chunk.
 */
export function gather(clean: Clean, plan: Plan, frame: i32, first: i32, moveOn: bool): void {
  const bytes = <usize>plan.stride << 2;
  const around = clean.around;
  const power = powerOf(plan, slotOf(plan, frame));
  spreadSums(clean.sums, clean.inverse, around, bytes);
  if (moveOn) {
    const entering = powerOf(plan, slotOf(plan, frame + REACH + 1));
    const leaves = frame - REACH >= first;
    moveSums(clean.sums, entering, leaves ? powerOf(plan, slotOf(plan, frame - REACH)) : clean.zeros, bytes);
  }
  mirror(around, plan.bins);
  weigh(around, power, clean.inverse, gainOf(plan, slotOf(plan, frame)), bytes);
}

function spreadSums(sums: usize, inverse: usize, around: usize, bytes: usize): void {
  const weight = all(1.0 / (3.0 * (2.0 * <f32>REACH + 1.0)));
  const end = around + bytes;
  for (; around + 64 <= end; around += 64, sums += 64, inverse += 64) {
    meanAt(sums, inverse, around, weight);
    meanAt(sums + 16, inverse + 16, around + 16, weight);
    meanAt(sums + 32, inverse + 32, around + 32, weight);
    meanAt(sums + 48, inverse + 48, around + 48, weight);
  }
  for (; around < end; around += 16, sums += 16, inverse += 16) meanAt(sums, inverse, around, weight);
}

function moveSums(sums: usize, entering: usize, leaving: usize, bytes: usize): void {
  const end = sums + bytes;
  for (; sums + 64 <= end; sums += 64, entering += 64, leaving += 64) {
    moveAt(sums, entering, leaving);
    moveAt(sums + 16, entering + 16, leaving + 16);
    moveAt(sums + 32, entering + 32, leaving + 32);
    moveAt(sums + 48, entering + 48, leaving + 48);
  }
  for (; sums < end; sums += 16, entering += 16, leaving += 16) moveAt(sums, entering, leaving);
}

function weigh(around: usize, power: usize, inverse: usize, evidence: usize, bytes: usize): void {
  const end = around + bytes;
  for (; around + 64 <= end; around += 64, power += 64, inverse += 64, evidence += 64) {
    evidenceAt(around, power, inverse, evidence);
    evidenceAt(around + 16, power + 16, inverse + 16, evidence + 16);
    evidenceAt(around + 32, power + 32, inverse + 32, evidence + 32);
    evidenceAt(around + 48, power + 48, inverse + 48, evidence + 48);
  }
  for (; around < end; around += 16, power += 16, inverse += 16, evidence += 16) {
    evidenceAt(around, power, inverse, evidence);
  }
}
