import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { makeWindow } from '../signal/window.ts';
import { SlowStream } from './break-pulses.ts';
import { SlowCopy } from './slow-copy.ts';

/** A stretch of a sound in which all frequencies are alike loud. */
export interface FlatSound {
  /** About 1 each; silence stays silence. */
  readonly samples: Float64Array;
  readonly rateHz: number;
  /** The sound's own time of the first of them, s. */
  readonly firstSec: number;
}

/** About this rate. */
export const FLAT_RATE_HZ = 16000;
/** 128 ms: partials of held notes are lines in it, so that what lies between them counts for more than they do. */
const SIZE = 2048;
const HOP = SIZE / 2;
/** Lower is rumble and hum, Hz. */
const LEAST_HZ = 160;
/** Power of a bin below which sound is left as faint as it is: noise at -130 dBFS. */
const FAINT = 1e-10;
const LEVEL_FRAMES = 64;
/** Power after flattening that counts as silence. */
const NOTHING = 1e-7;

/**
 * A sound between two times, s, flattened: each bin of a short spectrum is divided by its own magnitude, smoothed over three bins, and the
 * phases are kept (the phase transform of Knapp and Carter, The generalized correlation method for estimation of time delay,
 * IEEE Trans. ASSP 24, 1976, here as a filter). Its correlations are those of all the noise in a sound, where those of the sound itself are
 * those of its partials. room: where the samples may lie, if it is long
 * enough; they are then of use until it is used again.
 */
export function flattened(sound: Sound, fromSec: number, toSec: number, room?: Float64Array): FlatSound {
  const slow = new SlowCopy(sound.rateHz, FLAT_RATE_HZ);
  const rate = slow.rateHz;
  const first = Math.floor(fromSec * rate);
  const count = Math.max(1, Math.ceil((toSec - fromSec) * rate));
  const samples =
    room !== undefined && room.length >= count ? room.subarray(0, count).fill(0) : new Float64Array(count);
  const stream = new SlowStream(sound, slow);
  const line = new Float64Array(SIZE);
  stream.seek(first - HOP);
  stream.read(line.subarray(0, HOP));
  const flattener = new Flattener(rate);
  for (let at = -HOP; at < count; at += HOP) {
    stream.read(line.subarray(HOP));
    flattener.addTo(samples, at, line);
    line.copyWithin(0, HOP);
  }
  level(samples);
  return { samples, rateHz: rate, firstSec: first / rate };
}

/** Divides by the level of the 4 ms around, so that no pulse outweighs the rest. */
function level(samples: Float64Array): void {
  const around = new Float64Array(LEVEL_FRAMES);
  let sum = 0;
  for (let n = 0; n < samples.length + LEVEL_FRAMES / 2; n++) {
    const next = samples[n] ?? 0;
    const place = n % LEVEL_FRAMES;
    sum += next * next - around[place]!;
    around[place] = next * next;
    const middle = n - LEVEL_FRAMES / 2;
    if (middle >= 0) samples[middle]! /= Math.sqrt(Math.max(0, sum) / LEVEL_FRAMES + NOTHING);
  }
}

class Flattener {
  readonly #fft = new RealFft(SIZE);
  readonly #window = makeWindow('hann', SIZE);
  readonly #row = new Float64Array(SIZE);
  readonly #re = new Float64Array(this.#fft.bins);
  readonly #im = new Float64Array(this.#fft.bins);
  readonly #power = new Float64Array(this.#fft.bins + 1);
  readonly #leastBin: number;

  constructor(rateHz: number) {
    this.#leastBin = Math.ceil((LEAST_HZ * SIZE) / rateHz);
  }

  /** Adds a windowed, flattened stretch to what begins at `at`, which may lie outside in part. */
  addTo(target: Float64Array, at: number, line: Float64Array): void {
    const row = this.#row;
    multiply(line, this.#window, row);
    this.#fft.forward(row, this.#re, this.#im);
    flatten(this.#re, this.#im, this.#power, this.#leastBin);
    this.#fft.inverse(this.#re, this.#im, row);
    add(target, at, row, Math.max(0, -at), Math.min(SIZE, target.length - at));
  }
}

function multiply(a: Float64Array, b: Float64Array, target: Float64Array): void {
  for (let n = 0; n < target.length; n++) target[n] = a[n]! * b[n]!;
}

function add(target: Float64Array, at: number, row: Float64Array, from: number, to: number): void {
  for (let n = from; n < to; n++) target[at + n] = target[at + n]! + row[n]!;
}

/** power: one longer than the bins; its last stays 0. */
function flatten(re: Float64Array, im: Float64Array, power: Float64Array, leastBin: number): void {
  for (let k = 0; k < re.length; k++) power[k] = re[k]! * re[k]! + im[k]! * im[k]!;
  re.fill(0, 0, leastBin);
  im.fill(0, 0, leastBin);
  for (let k = leastBin; k < re.length; k++) {
    const gain = 1 / Math.sqrt(0.25 * (power[k - 1]! + power[k + 1]!) + 0.5 * power[k]! + FAINT);
    re[k]! *= gain;
    im[k]! *= gain;
  }
}
