import { weighedSum } from '../signal/side-sums.ts';
import type { Sound } from '../signal/sound.ts';
import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';

/** Rate at which bleed is looked for, Hz. Headphones leak mostly between some hundred hertz and 4 kHz. */
export const RATE_HZ = 8000;
/** Parts of a frame between which a place is read at the nearest. */
const PHASES = 32;

/**
 * Reads a sound at any time and speed, at RATE_HZ, low-passed.
 *
 * A windowed sinc (Hann, 5.4 output periods long) for each 32nd part of a frame. In WebAssembly where its SIMD is to be had, else in plain TypeScript; both
 * give the same numbers to the last bit. Memory: 12 bytes for each of the sound's frames that are read at once.
 */
export class SlowReader {
  readonly #sound: Sound;
  readonly #half: number;
  /** PHASES rows of 2 * #half taps. */
  readonly #taps: Float64Array;
  readonly #most: number;
  readonly #kernel: BleedKernel | null;
  #plain:
    | { readonly raw: Float32Array; readonly wide: Float64Array; readonly phases: readonly Float64Array[] }
    | undefined;

  /** most: samples that are read at once at the most. kernel: null for plain TypeScript. */
  constructor(sound: Sound, most: number, kernel: BleedKernel | null = bleedKernel()) {
    this.#sound = sound;
    const ratio = sound.rateHz / RATE_HZ;
    const half = Math.ceil(2.7 * Math.max(1, ratio));
    this.#half = half;
    this.#taps = new Float64Array(PHASES * 2 * half);
    for (let phase = 0; phase < PHASES; phase++) setLowPass(this.#rowOf(phase), phase / PHASES, ratio);
    this.#most = Math.ceil(most * ratio * 1.001) + 2 * half + 8;
    this.#kernel = kernel;
  }

  #rowOf(phase: number): Float64Array {
    return this.#taps.subarray(2 * this.#half * phase, 2 * this.#half * (phase + 1));
  }

  /** Fills `target` from `count` samples on with silence: sample n is the sound at fromSec + n * speed / RATE_HZ. */
  read(fromSec: number, speed: number, count: number, target: Float64Array): void {
    const start = fromSec * this.#sound.rateHz;
    const first = Math.floor(start) - this.#half;
    const step = (this.#sound.rateHz * speed) / RATE_HZ;
    const frames = Math.min(this.#most, Math.ceil(count * step) + 2 * this.#half + 8);
    if (this.#kernel === null) this.#readPlain(first, frames, start - first, step, count, target);
    else this.#readIn(this.#kernel, first, frames, start - first, step, count, target);
    target.fill(0, count);
  }

  #readIn(
    kernel: BleedKernel,
    first: number,
    frames: number,
    start: number,
    step: number,
    count: number,
    target: Float64Array,
  ): void {
    const raw = kernel.room('raw', 4 * this.#most + 16);
    const wide = kernel.room('wide', 8 * this.#most + 32);
    const taps = kernel.room('taps', 8 * this.#taps.length);
    const read = kernel.room('read', 8 * count);
    if (kernel.tapsOf !== this) {
      kernel.doubles(taps, this.#taps.length).set(this.#taps);
      kernel.tapsOf = this;
    }
    this.#sound.read(first, kernel.floats(raw, frames));
    kernel.run.widen(raw, wide, frames);
    kernel.run.readBetween(wide, start, step, count, taps, 2 * this.#half, PHASES, 1 - this.#half, read);
    target.set(kernel.doubles(read, count));
  }

  #readPlain(first: number, frames: number, start: number, step: number, count: number, target: Float64Array): void {
    this.#plain ??= {
      raw: new Float32Array(this.#most),
      wide: new Float64Array(this.#most),
      phases: Array.from({ length: PHASES }, (_, phase) => this.#rowOf(phase).slice()),
    };
    const { wide, phases } = this.#plain;
    const half = this.#half;
    const raw = this.#plain.raw.subarray(0, frames);
    this.#sound.read(first, raw);
    for (let n = 0; n < frames; n++) wide[n] = raw[n]!;
    for (let n = 0; n < count; n++) {
      const at = start + n * step;
      let whole = Math.floor(at);
      let phase = Math.floor((at - whole) * PHASES + 0.5);
      if (phase === PHASES) {
        phase = 0;
        whole++;
      }
      target[n] = weighedSum(phases[phase]!, wide, whole - half + 1);
    }
  }
}

function setLowPass(taps: Float64Array, fraction: number, ratio: number): void {
  const half = taps.length / 2;
  const cut = 1 / Math.max(1, ratio);
  let sum = 0;
  for (let k = 0; k < 2 * half; k++) {
    const x = k - half + 1 - fraction;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x * cut) / (Math.PI * x * cut);
    const window = Math.abs(x) >= half ? 0 : 0.5 + 0.5 * Math.cos((Math.PI * x) / half);
    taps[k] = sinc * window;
    sum += taps[k]!;
  }
  for (let k = 0; k < 2 * half; k++) taps[k] = taps[k]! / sum;
}
