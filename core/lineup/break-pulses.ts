import { predictorTaps } from '../signal/linear-prediction.ts';
import type { Sound } from '../signal/sound.ts';
import { CHUNK, SlowCopy } from './slow-copy.ts';

/** A moment at which a sound cannot be foretold. */
export interface Pulse {
  /** The sound's own time, s, to about 0.3 ms. */
  readonly atSec: number;
  /** Power of what no prediction explains there over the mean of what is left on both sides, as a ratio. */
  readonly overMean: number;
  /** The same over the loudest on either side: an attack goes on being loud, and a reed or a bow pulses in every period. */
  readonly overLoudest: number;
}

/** About this rate the sound is looked at: most of what is played lies below 8 kHz, and so does most of a break. */
const RATE_HZ = 16000;
const ORDER = 24;
const WINDOW_SEC = 0.06;
const HOP_SEC = 0.02;
/** Two grains together are a pulse. */
const GRAIN_FRAMES = 4;
/** What surrounds a pulse reaches from 1.5 ms to 25 ms on either side. */
const NEAR_GRAINS = 6;
const FAR_GRAINS = 100;
/** Pulses are the highest within this many grains. */
const ALONE_GRAINS = 40;

/** Pulses of the prediction's error between two times, s, in order; those that stand over the mean around them by leastOverMean. */
export function pulsesOf(sound: Sound, fromSec: number, toSec: number, leastOverMean: number): Pulse[] {
  const { power, firstSec, grainSec } = residualPower(sound, fromSec, toSec);
  const margin = FAR_GRAINS + 1;
  const count = power.length - 1;
  const pairs = new Float64Array(Math.max(0, count));
  const sums = new Float64Array(Math.max(0, count) + 1);
  for (let g = 0; g < count; g++) {
    pairs[g] = power[g]! + power[g + 1]!;
    sums[g + 1] = sums[g]! + pairs[g]!;
  }
  const found: Pulse[] = [];
  const mean = (from: number, to: number): number => (sums[to]! - sums[from]!) / (to - from);
  for (let g = margin; g < count - margin; g++) {
    const here = pairs[g]!;
    if (here < pairs[g - 1]! || here <= pairs[g + 1]!) continue;
    // The louder side counts: an attack is no pulse over what went before it.
    const around = Math.max(mean(g - FAR_GRAINS, g - NEAR_GRAINS), mean(g + NEAR_GRAINS, g + FAR_GRAINS));
    if (here < leastOverMean * around) continue;
    if (loudest(pairs, g - ALONE_GRAINS, g + ALONE_GRAINS + 1) > here) continue;
    const side = Math.max(
      loudest(pairs, g - FAR_GRAINS, g - NEAR_GRAINS + 1),
      loudest(pairs, g + NEAR_GRAINS, g + FAR_GRAINS + 1),
    );
    const floor = 1e-13;
    found.push({
      atSec: firstSec + (g + 1) * grainSec,
      overMean: here / (around + floor),
      overLoudest: here / (side + floor),
    });
  }
  return found;
}

function loudest(values: Float64Array, from: number, to: number): number {
  let most = 0;
  for (let g = from; g < to; g++) if (values[g]! > most) most = values[g]!;
  return most;
}

/** Mean square of the prediction's error, a number a grain. */
function residualPower(
  sound: Sound,
  fromSec: number,
  toSec: number,
): { power: Float64Array; firstSec: number; grainSec: number } {
  const slow = new SlowCopy(sound.rateHz, RATE_HZ);
  const rate = slow.rateHz;
  const hop = Math.round((HOP_SEC * rate) / GRAIN_FRAMES) * GRAIN_FRAMES;
  const side = Math.max(ORDER, (Math.round(WINDOW_SEC * rate) - hop) >> 1);
  const margin = (FAR_GRAINS + 2) * GRAIN_FRAMES;
  const first = Math.floor(fromSec * rate) - margin;
  const hops = Math.ceil(((toSec - fromSec) * rate + 2 * margin) / hop);
  const line = new Float64Array(hop + 2 * side);
  const shaped = new Float64Array(line.length);
  const taper = Float64Array.from(line, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 0.5)) / line.length));
  const power = new Float64Array((hops * hop) / GRAIN_FRAMES);
  const lags = new Float64Array(ORDER + 1);
  const taps = new Float64Array(ORDER + 1);
  const before = new Float64Array(ORDER + 1);
  const reader = new SlowStream(sound, slow);
  reader.seek(first - side);
  reader.read(line.subarray(0, 2 * side));
  for (let n = 0; n < hops; n++) {
    reader.read(line.subarray(2 * side));
    for (let k = 0; k < line.length; k++) shaped[k] = line[k]! * taper[k]!;
    autocorrelate(shaped, lags);
    // A floor of noise 90 dB below keeps it stable.
    lags[0] = lags[0]! * (1 + 1e-9) + 1e-15;
    predictorTaps(lags, taps, before);
    for (let g = 0; g < hop / GRAIN_FRAMES; g++) {
      power[(n * hop) / GRAIN_FRAMES + g] = errorPower(line, side + g * GRAIN_FRAMES, taps);
    }
    line.copyWithin(0, hop);
  }
  return { power, firstSec: first / rate, grainSec: GRAIN_FRAMES / rate };
}

/** Reads a slow copy of a sound on and on, from any of its frames; what lies before that frame counts as silence. */
export class SlowStream {
  readonly #sound: Sound;
  readonly #slow: SlowCopy;
  readonly #input: Float32Array;
  readonly #output: Float64Array;
  #at = 0;
  #filled = 0;
  #given = 0;

  /** atOnce: slow frames that are made at a time; as many as are handed over at once when absent. */
  constructor(sound: Sound, slow: SlowCopy, atOnce = Number.POSITIVE_INFINITY) {
    this.#sound = sound;
    this.#slow = slow;
    this.#input = new Float32Array(Math.min(Math.floor(CHUNK / slow.factor), atOnce) * slow.factor);
    this.#output = new Float64Array(CHUNK);
  }

  seek(slowFrame: number): void {
    this.#slow.reset();
    this.#at = slowFrame * this.#slow.factor;
    this.#filled = 0;
    this.#given = 0;
  }

  read(target: Float64Array): void {
    for (let n = 0; n < target.length; ) {
      if (this.#given === this.#filled) {
        this.#sound.read(this.#at, this.#input);
        this.#at += this.#input.length;
        this.#filled = this.#slow.add(this.#input, this.#output);
        this.#given = 0;
      }
      const count = Math.min(target.length - n, this.#filled - this.#given);
      for (let k = 0; k < count; k++) target[n + k] = this.#output[this.#given + k]!;
      n += count;
      this.#given += count;
    }
  }
}

/** Mean square of the error of four samples; four at once, since each is read once for all. */
function errorPower(line: Float64Array, at: number, taps: Float64Array): number {
  let a = line[at]!;
  let b = line[at + 1]!;
  let c = line[at + 2]!;
  let d = line[at + 3]!;
  let x = a;
  let y = b;
  let z = c;
  for (let j = 1; j <= ORDER; j++) {
    const tap = taps[j]!;
    const w = line[at - j]!;
    d += tap * z;
    c += tap * y;
    b += tap * x;
    a += tap * w;
    z = y;
    y = x;
    x = w;
  }
  return 0.25 * (a * a + b * b + c * c + d * d);
}

/** Lags 0 to ORDER, five at once; what lies before the first samples counts as silence. */
function autocorrelate(samples: Float64Array, lags: Float64Array): void {
  for (let lag = 0; lag <= ORDER; lag += 5) {
    // One by one: taken out of a row of whole numbers, each step would make new numbers on the heap.
    let a = 0;
    let b = 0;
    let c = 0;
    let d = 0;
    let e = 0;
    let p = 0;
    let q = 0;
    let r = 0;
    let s = 0;
    for (let n = lag; n < samples.length; n++) {
      const here = samples[n]!;
      const w = samples[n - lag]!;
      a += here * w;
      b += here * p;
      c += here * q;
      d += here * r;
      e += here * s;
      s = r;
      r = q;
      q = p;
      p = w;
    }
    lags[lag] = a;
    lags[lag + 1] = b;
    lags[lag + 2] = c;
    lags[lag + 3] = d;
    lags[lag + 4] = e;
  }
}
