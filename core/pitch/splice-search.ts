import type { Sound } from '../signal/sound.ts';

/** Stretch that is compared, s: one and a half periods of E1 and more. */
const COMPARED_SEC = 0.04;
/** The first search is done at some 8 kHz. */
const COARSE_HZ = 8000;
/** Jumps that are so nearly as good as the best are told apart by how near they are to the one that is wanted. */
const AS_GOOD = 0.006;

export interface Jump {
  /** Signed, fractional. */
  readonly jumpFrames: number;
  /** Normalised correlation of what is left and what is gone on with, -1 to 1. */
  readonly likeness: number;
}

/**
 * The jump after which a sound goes on most like before: the stretch from `place` on is compared with that from place + jump on,
 * for jumps from `leastFrames` to `mostFrames` in the direction (1 or -1); of those nearly as good, the one nearest to
 * `wantedFrames`. By waveform likeness: Roucos and Wilgus 1985 (SOLA), Verhelst and Roelands 1993 (WSOLA), ICASSP. Coarse at
 * some 8 kHz, then to the frame, then between frames by a parabola. undefined where no jump is allowed.
 */
export function bestJump(
  sound: Sound,
  place: number,
  direction: number,
  range: { readonly leastFrames: number; readonly mostFrames: number; readonly wantedFrames: number },
): Jump | undefined {
  const { rateHz } = sound;
  const compared = Math.round(COMPARED_SEC * rateHz);
  const shortest = Math.max(1, Math.ceil(range.leastFrames));
  const longest = Math.floor(range.mostFrames);
  if (longest < shortest) return undefined;
  const reach = longest + 2;
  const fine = samplesFrom(sound, Math.round(place) - reach, compared + 2 * reach);
  const likenessAt = (jump: number): number => likenessOf(fine, reach, reach + direction * jump, compared);
  const around = coarseJump(fine, reach, direction, shortest, longest, range.wantedFrames, rateHz, compared);
  const step = coarseStep(rateHz);
  let best = around;
  let most = Number.NEGATIVE_INFINITY;
  for (let jump = Math.max(shortest, around - step); jump <= Math.min(longest, around + step); jump++) {
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
  return { jumpFrames: direction * (best + shift), likeness: most };
}

/** How alike a stretch of a sound is to that `jumpFrames` further on, to the frame, -1 to 1. */
export function likenessOfJump(sound: Sound, place: number, jumpFrames: number, compared: number): number {
  const from = Math.round(place);
  const jump = Math.round(jumpFrames);
  const least = Math.min(0, jump);
  const samples = samplesFrom(sound, from + least, compared + Math.abs(jump));
  return likenessOf(samples, -least, jump - least, compared);
}

function samplesFrom(sound: Sound, fromFrame: number, count: number): Float64Array {
  const samples = new Float32Array(count);
  sound.read(fromFrame, samples);
  return Float64Array.from(samples);
}

function coarseStep(rateHz: number): number {
  return Math.max(1, Math.floor(rateHz / COARSE_HZ));
}

/** Of the peaks of likeness nearly as good as the best the one nearest to what is wanted, frames. */
function coarseJump(
  fine: Float64Array,
  reach: number,
  direction: number,
  shortest: number,
  longest: number,
  wanted: number,
  rateHz: number,
  compared: number,
): number {
  const step = coarseStep(rateHz);
  const coarse = averaged(fine, step);
  const base = Math.floor(reach / step);
  const first = Math.max(1, Math.floor(shortest / step));
  const last = Math.max(first, Math.min(base, Math.floor(longest / step)));
  const count = Math.min(Math.floor(compared / step), coarse.length - base - last);
  const likeness = new Float64Array(last - first + 1);
  for (let n = 0; n < likeness.length; n++) {
    likeness[n] = likenessOf(coarse, base, base + direction * (first + n), count);
  }
  const most = likeness.reduce((one, other) => Math.max(one, other));
  let best = first;
  let nearest = Number.POSITIVE_INFINITY;
  for (let n = 0; n < likeness.length; n++) {
    const isPeak = likeness[n]! >= (likeness[n - 1] ?? -1) && likeness[n]! >= (likeness[n + 1] ?? -1);
    const away = Math.abs((first + n) * step - wanted);
    if (!isPeak || likeness[n]! < most - AS_GOOD || away >= nearest) continue;
    nearest = away;
    best = first + n;
  }
  return Math.max(shortest, Math.min(longest, best * step));
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
