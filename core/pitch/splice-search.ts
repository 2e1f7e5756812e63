import type { Sound } from '../signal/sound.ts';

/** Stretch that is compared, s: one and a half periods of E1 and more. */
const COMPARED_SEC = 0.04;
/** Shortest and longest jump, s: periods from 400 Hz down to 41 Hz, more of them above. */
const SHORTEST_SEC = 0.0025;
const LONGEST_SEC = 0.027;
/** A jump may go this far beyond its place, s. */
const BEYOND_SEC = 0.014;
/** The first search is done at some 8 kHz. */
const COARSE_HZ = 8000;

export interface Jump {
  /** Signed, fractional. */
  readonly jumpFrames: number;
  /** Normalised correlation of what is left and what is gone on with, -1 to 1. */
  readonly likeness: number;
  /** Mean square of the stretch. */
  readonly power: number;
}

/**
 * The jump after which a sound goes on most like before. The stretch from `place` on is compared with that from place +
 * direction * jump on. direction: 1 or -1; offset: how far the place is from where it should be, frames; the jump leads back
 * past it by 14 ms at most. Coarse at some 8 kHz, then to the frame, then between frames by a parabola.
 */
export function bestJump(sound: Sound, place: number, direction: number, offset: number): Jump {
  const { rateHz } = sound;
  const compared = Math.round(COMPARED_SEC * rateHz);
  const shortest = Math.round(SHORTEST_SEC * rateHz);
  const longest = Math.round(Math.min(LONGEST_SEC * rateHz, offset + BEYOND_SEC * rateHz));
  const from = Math.round(place);
  const reach = longest + 2;
  const samples = new Float32Array(compared + 2 * reach);
  sound.read(from - reach, samples);
  const fine = Float64Array.from(samples);
  const likenessAt = (jump: number): number => likenessOf(fine, reach, reach + direction * jump, compared);
  const step = Math.max(1, Math.floor(rateHz / COARSE_HZ));
  const coarse = averaged(fine, step);
  let best = shortest;
  let most = Number.NEGATIVE_INFINITY;
  for (let jump = Math.ceil(shortest / step); jump <= Math.floor(longest / step); jump++) {
    const base = Math.floor(reach / step);
    const likeness = likenessOf(coarse, base, base + direction * jump, Math.floor(compared / step));
    if (likeness > most) {
      most = likeness;
      best = jump * step;
    }
  }
  const low = Math.max(shortest, best - step);
  const high = Math.min(longest, best + step);
  most = Number.NEGATIVE_INFINITY;
  for (let jump = low; jump <= high; jump++) {
    const likeness = likenessAt(jump);
    if (likeness > most) {
      most = likeness;
      best = jump;
    }
  }
  const before = likenessAt(best - 1);
  const after = likenessAt(best + 1);
  const bend = before - 2 * most + after;
  const shift = bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (before - after)) / bend)) : 0;
  let power = 0;
  for (let n = reach; n < reach + compared; n++) power += fine[n]! * fine[n]!;
  return { jumpFrames: direction * (best + shift), likeness: most, power: power / compared };
}

function likenessOf(samples: Float64Array, a: number, b: number, count: number): number {
  let products = 0;
  let left = 1e-30;
  let right = 1e-30;
  for (let n = 0; n < count; n++) {
    const x = samples[a + n]!;
    const y = samples[b + n]!;
    products += x * y;
    left += x * x;
    right += y * y;
  }
  return products / Math.sqrt(left * right);
}

function averaged(samples: Float64Array, step: number): Float64Array {
  const out = new Float64Array(Math.floor(samples.length / step));
  for (let n = 0; n < out.length; n++) {
    let sum = 0;
    for (let k = 0; k < step; k++) sum += samples[n * step + k]!;
    out[n] = sum / step;
  }
  return out;
}
