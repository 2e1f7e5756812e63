/**
 * Chains of two biquads over one channel, two or four side by side in double precision, of which only the energies are kept: the same sums in the same
 * order as ../../../filter-energies.ts, whose plain form is the oracle, so that the results are the same to the last bit. Addresses
 * are bytes in memory.
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
