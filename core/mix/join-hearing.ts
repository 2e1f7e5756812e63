import { powerToDb } from '../signal/decibels.ts';
import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { makeWindow } from '../signal/window.ts';

/** A short stretch of a sound as a join hears it: one value each HOP_SEC. Memory: some kB a second. */
export interface Heard {
  /** Session time of value 0. */
  readonly fromSec: number;
  /** Level, dB re full-scale power. */
  readonly levelDb: Float64Array;
  /** Levels below and above BRIGHT_HZ, dB; only for comparing two sounds. */
  readonly lowDb: Float64Array;
  readonly highDb: Float64Array;
  /** Session times at which notes begin. */
  readonly beginningsSec: readonly number[];
  /** The level that loud moments reach here, dB: the 95th percentile. */
  readonly loudDb: number;
}

/** Seconds between two values. Our own choice: a fifth of the shortest note that matters. */
export const HOP_SEC = 0.005;
/** What lies above it makes a tone bright: over the fundamentals of all but the highest notes, Hz. */
export const BRIGHT_HZ = 1200;
const BAND_COUNT = 24;
const LOWEST_HZ = 90;
const HIGHEST_HZ = 12_000;
/** A band this far below the loudest of the stretch says nothing, dB. */
const FLOOR_DB = 45;
/** A beginning is compared with this many values before it: 15 ms, inside which every attack worth the name rises. */
const LAG = 3;
/** Mean rise of the bands that makes a beginning, dB, and how far above the stretch's usual rise it has to be. */
const LEAST_RISE_DB = 2.2;
const OVER_USUAL = 3;
/** Two beginnings are at least this far apart, values: 60 ms. */
const APART = 12;

/**
 * Level and beginnings of notes in a stretch, from the rise of the energy in bands of a fifth of an octave or so (spectral
 * flux on a decibel scale; see Bello et al., A Tutorial on Onset Detection in Music Signals, 2005).
 * In: a sound on the session's time line. fromSec, toSec: session times.
 */
export function hear(sound: Sound, fromSec: number, toSec: number): Heard {
  const { rateHz } = sound;
  const hop = Math.round(HOP_SEC * rateHz);
  const size = 2 ** Math.ceil(Math.log2(0.02 * rateHz));
  const count = Math.max(1, Math.round((toSec - fromSec) / HOP_SEC));
  // One grid for all stretches, so that a beginning is found at the same moment in each.
  const first = Math.round(fromSec / HOP_SEC) * hop;
  const samples = new Float32Array((count - 1) * hop + size);
  sound.read(first - size / 2, samples);
  const bands = bandEdges(size, rateHz);
  const window = makeWindow('hann', size);
  const windowPower = window.reduce((sum, value) => sum + value * value, 0);
  const fft = new RealFft(size);
  const input = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const levelDb = new Float64Array(count);
  const lowDb = new Float64Array(count);
  const highDb = new Float64Array(count);
  const split = Math.round((BRIGHT_HZ * size) / rateHz);
  const top = Math.min(fft.bins, Math.round((HIGHEST_HZ * size) / rateHz));
  const bandDb = new Float64Array(count * BAND_COUNT);
  for (let n = 0; n < count; n++) {
    let power = 0;
    for (let k = 0; k < size; k++) {
      const value = samples[n * hop + k]! * window[k]!;
      input[k] = value;
      power += value * value;
    }
    levelDb[n] = powerToDb(power / windowPower + 1e-12);
    fft.forward(input, re, im);
    lowDb[n] = powerToDb(energyOf(re, im, bands[0]!, split) + 1e-12);
    highDb[n] = powerToDb(energyOf(re, im, split, top) + 1e-12);
    for (let band = 0; band < BAND_COUNT; band++) {
      let energy = 1e-12;
      for (let bin = bands[band]!; bin < bands[band + 1]!; bin++) energy += re[bin]! ** 2 + im[bin]! ** 2;
      bandDb[n * BAND_COUNT + band] = powerToDb(energy);
    }
  }
  return {
    fromSec: first / rateHz,
    levelDb,
    lowDb,
    highDb,
    beginningsSec: beginningsOf(bandDb, count).map((n) => first / rateHz + n * HOP_SEC),
    loudDb: percentile(levelDb, 0.95),
  };
}

/** The level at a session time, dB; the nearest value. */
export function levelAt(heard: Heard, atSec: number): number {
  const index = Math.round((atSec - heard.fromSec) / HOP_SEC);
  return heard.levelDb[Math.max(0, Math.min(heard.levelDb.length - 1, index))]!;
}

function energyOf(re: Float64Array, im: Float64Array, from: number, to: number): number {
  let energy = 0;
  for (let bin = from; bin < to; bin++) energy += re[bin]! ** 2 + im[bin]! ** 2;
  return energy;
}

function bandEdges(size: number, rateHz: number): number[] {
  const edges: number[] = [];
  for (let band = 0; band <= BAND_COUNT; band++) {
    const hz = LOWEST_HZ * (Math.min(HIGHEST_HZ, rateHz / 2) / LOWEST_HZ) ** (band / BAND_COUNT);
    edges.push(Math.max((edges.at(-1) ?? 0) + 1, Math.round((hz * size) / rateHz)));
  }
  return edges.map((edge) => Math.min(size / 2, edge));
}

/** Indices of the values at which notes begin. */
function beginningsOf(bandDb: Float64Array, count: number): number[] {
  let loudest = Number.NEGATIVE_INFINITY;
  for (const value of bandDb) loudest = Math.max(loudest, value);
  const floor = loudest - FLOOR_DB;
  const rise = new Float64Array(count);
  for (let n = LAG; n < count; n++) {
    let sum = 0;
    for (let band = 0; band < BAND_COUNT; band++) {
      const now = Math.max(floor, bandDb[n * BAND_COUNT + band]!);
      const before = Math.max(floor, bandDb[(n - LAG) * BAND_COUNT + band]!);
      sum += Math.max(0, now - before);
    }
    rise[n] = sum / BAND_COUNT;
  }
  const least = Math.max(LEAST_RISE_DB, OVER_USUAL * percentile(rise, 0.5));
  const found: number[] = [];
  for (let n = 1; n < count - 1; n++) {
    const value = rise[n]!;
    if (value < least || value < rise[n - 1]! || value < rise[n + 1]!) continue;
    // Where the rise begins, not where it is steepest: what comes before is still the old note.
    let start = n;
    while (start > 1 && n - start < LAG && rise[start - 1]! > value / 4) start--;
    const last = found.at(-1);
    if (last === undefined || start - last >= APART) found.push(start);
  }
  return found;
}

/** The value below which a part of all lies, 0 to 1. */
export function percentile(values: Float64Array, part: number): number {
  const sorted = values.slice().sort();
  return sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))] ?? 0;
}
