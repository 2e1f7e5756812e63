/** What one size of transform needs, laid out once. All addresses are bytes in the instance's memory. */
import { turn, turnCos, turnSin } from './turn';

/** The wrapper reads these fields by their order: keep `PLAN_FIELDS` of stft-plan.ts alike. */
@unmanaged
export class Plan {
  /** Window length N in samples. */
  size: i32;
  /** Samples between two frames. */
  hop: i32;
  /** N/2 + 1. */
  bins: i32;
  /** Floats from one per-bin array to the next: bins and three zeros, so that whole vectors can be worked on. */
  stride: i32;
  /** Frames that one call may bring at most. */
  callFrames: i32;
  /** Frames whose spectra are kept. */
  ringFrames: i32;
  /** Frames that `process` lets the analysis run ahead of the synthesis. */
  aheadFrames: i32;
  /** Frames analysed so far. */
  analysed: i32;
  /** Frames synthesised so far. */
  synthesised: i32;
  /** Finished samples of the last synthesis, still to be shifted out of the output. */
  shown: i32;
  /** N - hop samples of history, then room for callFrames * hop new samples. */
  input: usize;
  /** Finished samples, callFrames * hop at most, then N - hop of sums that are not yet complete. */
  output: usize;
  analysisWindow: usize;
  synthesisWindow: usize;
  /** ringFrames + 1 slots (the last one for single transforms) of re, im, power, gain: `stride` floats each. */
  slots: usize;
  slotBytes: i32;
  /** N ones, the window of single transforms. */
  ones: usize;
  /** N samples, room for single transforms. */
  scratch: usize;
  workA: usize;
  workB: usize;
  /** Bytes from the real to the imaginary parts in workA and workB. */
  plane: usize;
  firstTwiddles: usize;
  stageTwiddles: usize;
  splitTwiddles: usize;
  /** `stride` gains for all frames, for the plain gain stage. */
  gains: usize;
}

/** Largest array of a plan in bytes: addresses have 32 bits, and a product must not wrap round. */
const MOST_BYTES: u64 = 1 << 30;

/** Zeroed bytes on a cache line. They are never given back: an instance is dropped as a whole. */
export function allocate(bytes: usize): usize {
  const at = (heap.alloc(bytes + 64) + 63) & ~63;
  memory.fill(at, 0, bytes);
  return at;
}

/** 3 powers of the twiddle exp(-2 pi i p / n), re and im of each `spread` bytes apart. */
function storeTwiddles(at: usize, spread: usize, p: i32, n: i32): void {
  for (let power = 1; power < 4; power++) {
    turn(p * power, n);
    store<f32>(at, <f32>turnCos);
    store<f32>(at + spread, <f32>-turnSin);
    at += 2 * spread;
  }
}

function makeTwiddles(plan: Plan): void {
  const half = plan.size >> 1;
  plan.firstTwiddles = allocate(<usize>half * 6);
  for (let p = 0; p < half >> 2; p++) {
    storeTwiddles(plan.firstTwiddles + <usize>(p >> 2) * 96 + <usize>(p & 3) * 4, 16, p, half);
  }
  plan.stageTwiddles = allocate(<usize>half * 2 + 64);
  let at = plan.stageTwiddles;
  for (let n = half >> 2; n > 8; n >>= 2) {
    for (let p = 0; p < n >> 2; p++) {
      storeTwiddles(at, 4, p, n);
      at += 24;
    }
  }
  plan.splitTwiddles = allocate(<usize>half * 4);
  for (let k = 0; k < half >> 1; k++) {
    turn(k, plan.size);
    const to = plan.splitTwiddles + <usize>(k >> 2) * 32 + <usize>(k & 3) * 4;
    store<f32>(to, <f32>(0.5 * turnCos));
    store<f32>(to, <f32>(-0.5 * turnSin), 16);
  }
}

function fillOnes(at: usize, count: i32): void {
  for (let n = 0; n < count; n++) store<f32>(at + (<usize>n << 2), 1);
}

/**
 * Lays out a transform. size: power of two, 512 to 16384. hop: multiple of 4, at most size. callFrames >= 1.
 * ringFrames > aheadFrames >= 0; ring and input below 1 GiB each. Both windows and all gains start as ones. Returns 0
 * when an argument is out of range.
 */
export function plan(size: i32, hop: i32, callFrames: i32, ringFrames: i32, aheadFrames: i32): usize {
  if (size < 512 || size > 16384 || (size & (size - 1)) != 0) return 0;
  if (hop < 4 || hop > size || (hop & 3) != 0 || callFrames < 1 || aheadFrames < 0 || ringFrames <= aheadFrames) return 0;
  if (<u64>(size * 8 + 64) * <u64>(ringFrames + 1) > MOST_BYTES) return 0;
  if (<u64>hop * <u64>callFrames * 4 > MOST_BYTES - <u64>size * 4) return 0;
  const made = changetype<Plan>(allocate(offsetof<Plan>()));
  const half = size >> 1;
  made.size = size;
  made.hop = hop;
  made.bins = half + 1;
  made.stride = half + 4;
  made.callFrames = callFrames;
  made.ringFrames = ringFrames;
  made.aheadFrames = aheadFrames;
  const reach = <usize>(size - hop + callFrames * hop) << 2;
  made.input = allocate(reach);
  made.output = allocate(reach);
  made.analysisWindow = allocate(<usize>size << 2);
  made.synthesisWindow = allocate(<usize>size << 2);
  made.ones = allocate(<usize>size << 2);
  made.scratch = allocate(<usize>size << 2);
  fillOnes(made.analysisWindow, size);
  fillOnes(made.synthesisWindow, size);
  fillOnes(made.ones, size);
  made.slotBytes = made.stride * 16;
  made.slots = allocate(<usize>made.slotBytes * <usize>(ringFrames + 1));
  for (let slot = 0; slot <= ringFrames; slot++) fillOnes(gainOf(made, slotAt(made, slot)), made.bins);
  made.gains = allocate(<usize>made.stride << 2);
  fillOnes(made.gains, made.bins);
  // The odd distance keeps the eight streams of a butterfly out of one cache set.
  made.plane = (<usize>half << 2) + 1088;
  made.workA = allocate(made.plane * 4);
  made.workB = made.workA + made.plane * 2;
  makeTwiddles(made);
  return changetype<usize>(made);
}

/** Address of the slot with this index, 0 to ringFrames. */
// @ts-ignore: decorator
@inline export function slotAt(plan: Plan, index: i32): usize {
  return plan.slots + <usize>index * <usize>plan.slotBytes;
}

/** Address of the slot of a frame, counted from the first one analysed; valid for the last ringFrames frames. */
// @ts-ignore: decorator
@inline export function slotOf(plan: Plan, frame: i32): usize {
  return slotAt(plan, frame % plan.ringFrames);
}

/** Imaginary parts of a slot; the real parts lie at the slot's own address. */
// @ts-ignore: decorator
@inline export function imOf(plan: Plan, slot: usize): usize { return slot + (<usize>plan.stride << 2); }
/** Power re^2 + im^2 of a slot, written by the analysis. */
// @ts-ignore: decorator
@inline export function powerOf(plan: Plan, slot: usize): usize { return slot + (<usize>plan.stride << 3); }
/** Linear gains of a slot, read by the synthesis. */
// @ts-ignore: decorator
@inline export function gainOf(plan: Plan, slot: usize): usize { return slot + <usize>plan.stride * 12; }
