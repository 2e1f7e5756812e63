/**
 * Chains of two biquads over one channel, two or four side by side in double precision, of which only the energies are kept: the same sums in the same
 * order as ../../../filter-energies.ts, whose plain form is the oracle, so that the results are the same to the last bit. Addresses
 * are bytes in memory. `gather` is one chain with the steps of time: see ../../../step-energies.ts.
 */

export { allocate } from '../../../kernel/assembly/memory';

/** Bytes of what belongs to two chains, and where their states and energies lie in them. */
const PAIR: usize = 240;
const STATES: usize = 160;
const ENERGY: usize = 224;

/**
 * Takes `count` samples through two chains. At `pair`, pairs of doubles, one of each chain: b0, b1, b2, a1, a2 of the first biquads, then of the
 * second; the two states of the first, of the second; the energies. At `own`, of the samples as they come: the energy and the greatest
 * magnitude.
 */
export function addToTwo(samples: usize, count: i32, pair: usize, own: usize): void {
  const b0 = v128.load(pair);
  const b1 = v128.load(pair, 16);
  const b2 = v128.load(pair, 32);
  const a1 = v128.load(pair, 48);
  const a2 = v128.load(pair, 64);
  const d0 = v128.load(pair, 80);
  const d1 = v128.load(pair, 96);
  const d2 = v128.load(pair, 112);
  const c1 = v128.load(pair, 128);
  const c2 = v128.load(pair, 144);
  const states = pair + STATES;
  let s1 = v128.load(states);
  let s2 = v128.load(states, 16);
  let r1 = v128.load(states, 32);
  let r2 = v128.load(states, 48);
  let energy = v128.load(pair + ENERGY);
  let power = load<f64>(own);
  let peak = <f32>load<f64>(own, 8);
  for (const end = samples + (<usize>count << 2); samples < end; samples += 4) {
    const sample = load<f32>(samples);
    const one = <f64>sample;
    const x = f64x2.splat(one);
    power += one * one;
    const magnitude = abs(sample);
    peak = magnitude > peak ? magnitude : peak;
    const y = f64x2.add(f64x2.mul(b0, x), s1);
    s1 = f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y));
    s2 = f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y));
    const z = f64x2.add(f64x2.mul(d0, y), r1);
    r1 = f64x2.sub(f64x2.add(f64x2.mul(d1, y), r2), f64x2.mul(c1, z));
    r2 = f64x2.sub(f64x2.mul(d2, y), f64x2.mul(c2, z));
    energy = f64x2.add(energy, f64x2.mul(z, z));
  }
  v128.store(states, s1);
  v128.store(states, s2, 16);
  v128.store(states, r1, 32);
  v128.store(states, r2, 48);
  v128.store(pair + ENERGY, energy);
  store<f64>(own, power);
  store<f64>(own, <f64>peak, 8);
}

/** As `addToTwo`, through four chains: two pairs one behind the other. A pair waits for itself at every sample; two wait together. */
export function addToFour(samples: usize, count: i32, pairs: usize, own: usize): void {
  let power = load<f64>(own);
  let peak = <f32>load<f64>(own, 8);
  const first = pairs + STATES;
  const second = first + PAIR;
  let s1 = v128.load(first);
  let s2 = v128.load(first, 16);
  let r1 = v128.load(first, 32);
  let r2 = v128.load(first, 48);
  let energy = v128.load(pairs + ENERGY);
  let t1 = v128.load(second);
  let t2 = v128.load(second, 16);
  let u1 = v128.load(second, 32);
  let u2 = v128.load(second, 48);
  let other = v128.load(pairs + PAIR + ENERGY);
  // The coefficients do not fit into the registers, and are read where they are needed.
  for (const end = samples + (<usize>count << 2); samples < end; samples += 4) {
    const sample = load<f32>(samples);
    const one = <f64>sample;
    const x = f64x2.splat(one);
    power += one * one;
    const magnitude = abs(sample);
    peak = magnitude > peak ? magnitude : peak;
    const y = f64x2.add(f64x2.mul(v128.load(pairs), x), s1);
    const v = f64x2.add(f64x2.mul(v128.load(pairs + PAIR), x), t1);
    s1 = f64x2.sub(f64x2.add(f64x2.mul(v128.load(pairs, 16), x), s2), f64x2.mul(v128.load(pairs, 48), y));
    t1 = f64x2.sub(f64x2.add(f64x2.mul(v128.load(pairs + PAIR, 16), x), t2), f64x2.mul(v128.load(pairs + PAIR, 48), v));
    s2 = f64x2.sub(f64x2.mul(v128.load(pairs, 32), x), f64x2.mul(v128.load(pairs, 64), y));
    t2 = f64x2.sub(f64x2.mul(v128.load(pairs + PAIR, 32), x), f64x2.mul(v128.load(pairs + PAIR, 64), v));
    const z = f64x2.add(f64x2.mul(v128.load(pairs, 80), y), r1);
    const w = f64x2.add(f64x2.mul(v128.load(pairs + PAIR, 80), v), u1);
    r1 = f64x2.sub(f64x2.add(f64x2.mul(v128.load(pairs, 96), y), r2), f64x2.mul(v128.load(pairs, 128), z));
    u1 = f64x2.sub(f64x2.add(f64x2.mul(v128.load(pairs + PAIR, 96), v), u2), f64x2.mul(v128.load(pairs + PAIR, 128), w));
    r2 = f64x2.sub(f64x2.mul(v128.load(pairs, 112), y), f64x2.mul(v128.load(pairs, 144), z));
    u2 = f64x2.sub(f64x2.mul(v128.load(pairs + PAIR, 112), v), f64x2.mul(v128.load(pairs + PAIR, 144), w));
    energy = f64x2.add(energy, f64x2.mul(z, z));
    other = f64x2.add(other, f64x2.mul(w, w));
  }
  v128.store(first, s1);
  v128.store(first, s2, 16);
  v128.store(first, r1, 32);
  v128.store(first, r2, 48);
  v128.store(pairs + ENERGY, energy);
  v128.store(second, t1);
  v128.store(second, t2, 16);
  v128.store(second, u1, 32);
  v128.store(second, u2, 48);
  v128.store(pairs + PAIR + ENERGY, other);
  store<f64>(own, power);
  store<f64>(own, <f64>peak, 8);
}

/** Where, from its address on, what `gather` needs lies: five pairs of coefficients, two of states, then single doubles. */
const GATHER_STATES: usize = 80;
const GATHER_ENERGY: usize = 112;
const GATHER_POWER: usize = 120;
const GATHER_PEAK: usize = 128;
const GATHER_TENTH: usize = 136;
const GATHER_FRAME: usize = 144;
const GATHER_LEVEL_TO: usize = 152;
const GATHER_LEVEL_FRAMES: usize = 160;
const GATHER_STEP: usize = 168;
const GATHER_STEP_TO: usize = 176;
const GATHER_RATE: usize = 184;
const GATHER_LEVELS: usize = 192;
const GATHER_TENTHS: usize = 200;
/** As STATE_FLOOR of filter-energies.ts. */
const STATE_FLOOR: f64 = 1e-30;

/**
 * Takes `count` samples through one chain. Both biquads share a vector: the second is one sample behind the first, which therefore begins
 * alone and leaves the second to end alone. Adds to energy and power, and returns the greatest magnitude. count: 1 or more.
 */
function weigh(samples: usize, count: i32, at: usize): f32 {
  const b0 = v128.load(at);
  const b1 = v128.load(at, 16);
  const b2 = v128.load(at, 32);
  const a1 = v128.load(at, 48);
  const a2 = v128.load(at, 64);
  let s1 = v128.load(at + GATHER_STATES);
  let s2 = v128.load(at + GATHER_STATES, 16);
  let energy = f64x2.splat(load<f64>(at + GATHER_ENERGY));
  let power = load<f64>(at + GATHER_POWER);
  const end = samples + (<usize>count << 2);
  let sample = load<f32>(samples);
  let most = f32x4.splat(abs(sample));
  power += <f64>sample * <f64>sample;
  let x = f64x2.splat(<f64>sample);
  let y = f64x2.add(f64x2.mul(b0, x), s1);
  s1 = v128.shuffle<f64>(f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y)), s1, 0, 3);
  s2 = v128.shuffle<f64>(f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y)), s2, 0, 3);
  for (samples += 4; samples + 16 <= end; samples += 16) {
    const four = v128.load(samples);
    most = f32x4.pmax(most, f32x4.abs(four));
    const one = f64x2.promote_low_f32x4(four);
    const two = f64x2.promote_low_f32x4(v128.shuffle<f32>(four, four, 2, 3, 0, 1));
    const square = f64x2.mul(one, one);
    power += f64x2.extract_lane(square, 0);
    power += f64x2.extract_lane(square, 1);
    const other = f64x2.mul(two, two);
    power += f64x2.extract_lane(other, 0);
    power += f64x2.extract_lane(other, 1);
    x = v128.shuffle<f64>(one, y, 0, 2);
    y = f64x2.add(f64x2.mul(b0, x), s1);
    s1 = f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y));
    s2 = f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y));
    energy = f64x2.add(energy, f64x2.mul(y, y));
    x = v128.shuffle<f64>(one, y, 1, 2);
    y = f64x2.add(f64x2.mul(b0, x), s1);
    s1 = f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y));
    s2 = f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y));
    energy = f64x2.add(energy, f64x2.mul(y, y));
    x = v128.shuffle<f64>(two, y, 0, 2);
    y = f64x2.add(f64x2.mul(b0, x), s1);
    s1 = f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y));
    s2 = f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y));
    energy = f64x2.add(energy, f64x2.mul(y, y));
    x = v128.shuffle<f64>(two, y, 1, 2);
    y = f64x2.add(f64x2.mul(b0, x), s1);
    s1 = f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y));
    s2 = f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y));
    energy = f64x2.add(energy, f64x2.mul(y, y));
  }
  let greatest = max(
    max(f32x4.extract_lane(most, 0), f32x4.extract_lane(most, 1)),
    max(f32x4.extract_lane(most, 2), f32x4.extract_lane(most, 3)),
  );
  for (; samples < end; samples += 4) {
    sample = load<f32>(samples);
    greatest = max(greatest, abs(sample));
    power += <f64>sample * <f64>sample;
    x = v128.shuffle<f64>(f64x2.splat(<f64>sample), y, 0, 2);
    y = f64x2.add(f64x2.mul(b0, x), s1);
    s1 = f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y));
    s2 = f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y));
    energy = f64x2.add(energy, f64x2.mul(y, y));
  }
  x = v128.shuffle<f64>(y, y, 0, 0);
  y = f64x2.add(f64x2.mul(b0, x), s1);
  energy = f64x2.add(energy, f64x2.mul(y, y));
  v128.store(at + GATHER_STATES, v128.shuffle<f64>(s1, f64x2.sub(f64x2.add(f64x2.mul(b1, x), s2), f64x2.mul(a1, y)), 0, 3));
  v128.store(at + GATHER_STATES, v128.shuffle<f64>(s2, f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, y)), 0, 3), 16);
  store<f64>(at + GATHER_ENERGY, f64x2.extract_lane(energy, 1));
  store<f64>(at + GATHER_POWER, power);
  return greatest;
}

/** The frame nearest to a whole number of hundredths of a second. */
// @ts-ignore: decorator
@inline function hundredth(step: f64, rateHz: f64): f64 {
  return floor((step * rateHz) / 100 + 0.5);
}

/**
 * Takes `count` samples. For each whole level step a mean square and a greatest magnitude go to `levels` (single precision, one pair
 * behind the other), for each whole tenth of a second the energy behind the chain to `tenths` (doubles), summed by hundredths; how many of each is told
 * at GATHER_LEVELS and GATHER_TENTHS. Returns the greatest magnitude of all.
 */
export function gather(samples: usize, count: i32, at: usize, levels: usize, tenths: usize): f32 {
  let frame = load<f64>(at + GATHER_FRAME);
  let levelTo = load<f64>(at + GATHER_LEVEL_TO);
  let stepTo = load<f64>(at + GATHER_STEP_TO);
  let step = load<f64>(at + GATHER_STEP);
  let peak = <f32>load<f64>(at + GATHER_PEAK);
  let tenth = load<f64>(at + GATHER_TENTH);
  const levelFrames = load<f64>(at + GATHER_LEVEL_FRAMES);
  const rateHz = load<f64>(at + GATHER_RATE);
  const end = frame + <f64>count;
  const firstLevel = levels;
  const firstTenth = tenths;
  let greatest: f32 = 0;
  while (frame < end) {
    const to = min(end, min(levelTo, stepTo));
    const length = <i32>(to - frame);
    const here = weigh(samples, length, at);
    peak = max(peak, here);
    greatest = max(greatest, here);
    samples += <usize>length << 2;
    frame = to;
    if (frame == stepTo) {
      tenth += load<f64>(at + GATHER_ENERGY);
      store<f64>(at + GATHER_ENERGY, 0);
      for (let state = at + GATHER_STATES; state < at + GATHER_ENERGY; state += 8) {
        if (abs(load<f64>(state)) < STATE_FLOOR) store<f64>(state, 0);
      }
      step += 1;
      stepTo = hundredth(step + 1, rateHz);
      if (step % 10 == 0) {
        store<f64>(tenths, tenth);
        tenths += 8;
        tenth = 0;
      }
    }
    if (frame == levelTo) {
      store<f32>(levels, <f32>(load<f64>(at + GATHER_POWER) / levelFrames));
      store<f32>(levels, peak, 4);
      levels += 8;
      store<f64>(at + GATHER_POWER, 0);
      peak = 0;
      levelTo += levelFrames;
    }
  }
  store<f64>(at + GATHER_FRAME, frame);
  store<f64>(at + GATHER_LEVEL_TO, levelTo);
  store<f64>(at + GATHER_STEP_TO, stepTo);
  store<f64>(at + GATHER_STEP, step);
  store<f64>(at + GATHER_PEAK, <f64>peak);
  store<f64>(at + GATHER_TENTH, tenth);
  store<f64>(at + GATHER_LEVELS, <f64>((levels - firstLevel) >> 3));
  store<f64>(at + GATHER_TENTHS, <f64>((tenths - firstTenth) >> 3));
  return greatest;
}
