import { type Block, blockLength, type Meter } from '../signal/block.ts';
import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { makeWindow } from '../signal/window.ts';
import { CHUNK, SlowCopy } from './slow-copy.ts';

/** Seconds from one spectral frame of a trace to the next. */
export const FRAME_SEC = 0.024;
/** Seconds a number of the two energy traces stands for. */
export const TICK_SEC = 0.002;
/** Spectral lines a frame keeps: 62 Hz to about 1300 Hz. Higher ones carry the guide's clicks more than its notes. */
export const LINES = 160;

const SLOW_HZ = 4000;
const WINDOW = 512;
const FIRST_LINE = 8;
/** Half a decibel a step. */
const STEPS_PER_OCTAVE = 12.0412;
const STEPS_PER_NEPER = STEPS_PER_OCTAVE / Math.LN2;
const STEP_ZERO = 172;
/** A float's bits, read as a whole number, are its logarithm in this many parts an octave, to 0.26 dB. */
const BITS_PER_OCTAVE = 2 ** 23;
const BITS_OF_ONE = 127 * BITS_PER_OCTAVE;
/** A rise is measured over this many frames. */
const RISE_FRAMES = 1;
/** Rises below this (neper, some 3 dB) are not kept. */
const LEAST_RISE = 0.35;
/** The floor under the logarithm: this share of the level of a usual partial, so that soft dirt does not count. */
const FLOOR_SHARE = 0.1;

/**
 * What line-up remembers of a recording after one reading: where notes begin, line by line, and how loud it is every
 * 2 ms. About 5 kB a second.
 */
export interface Trace {
  readonly lengthSec: number;
  /** Spectral frames; frame n is centred on n * FRAME_SEC. */
  readonly frames: number;
  /** Rises of frame n are entries riseFrom[n] to riseFrom[n + 1] - 1 of riseLine and riseBy. */
  readonly riseFrom: Uint32Array;
  /** Line of a rise, 0 to LINES - 1. */
  readonly riseLine: Uint8Array;
  /** Size of a rise, neper over one frame. */
  readonly riseBy: Float32Array;
  /** Mean square of the sound, a number a tick. */
  readonly energy: Float32Array;
  /** Mean square of its first difference: the same for high frequencies. */
  readonly edge: Float32Array;
}

class Growing<A extends Uint8Array | Float32Array> {
  items: A;
  length = 0;
  readonly #make: (size: number) => A;

  constructor(make: (size: number) => A, size: number) {
    this.#make = make;
    this.items = make(size);
  }

  /** Makes room for `count` more items and gives the index of the first. */
  room(count: number): number {
    const from = this.length;
    if (from + count > this.items.length) {
      const larger = this.#make(Math.max(2 * this.items.length, from + count));
      larger.set(this.items);
      this.items = larger;
    }
    this.length = from + count;
    return from;
  }
}

/**
 * Listens once to a mono recording and gives its Trace.
 *
 * Note beginnings are rises of the log spectrum (Bello et al. 2005, A tutorial on onset detection in music signals,
 * IEEE Trans. Speech Audio Proc. 13(5), section III): 128 ms Hann windows every 24 ms on a copy of about 4 kHz, so that
 * neighbouring notes fall on different lines. Lines are kept in half-decibel steps until the end, when the floor of
 * each is known; measured: some 1600 times real time on one busy core.
 */
export class TakeListener implements Meter<Trace> {
  readonly #rateHz: number;
  readonly #slow: SlowCopy;
  readonly #fft = new RealFft(WINDOW);
  readonly #window = makeWindow('hann', WINDOW);
  readonly #slowLine = new Float64Array(WINDOW + 2 * CHUNK);
  readonly #floats = new Float32Array(LINES);
  readonly #bits = new Int32Array(this.#floats.buffer);
  readonly #work = new Float64Array(WINDOW);
  readonly #re = new Float64Array(WINDOW / 2 + 1);
  readonly #im = new Float64Array(WINDOW / 2 + 1);
  readonly #steps = new Growing((size) => new Uint8Array(size), LINES * 1024);
  readonly #energy = new Growing((size) => new Float32Array(size), 4096);
  readonly #edge = new Growing((size) => new Float32Array(size), 4096);
  /** The line holds the slow samples from this number on; the first half window is silence before time zero. */
  #slowFrom = -WINDOW / 2;
  #slowFilled = WINDOW / 2;
  #frames = 0;
  #frameFrom = -WINDOW / 2;
  #count = 0;
  #tickFrom = 0;
  #tickTo: number;
  #energySum = 0;
  #edgeSum = 0;
  #before = 0;
  /** rateHz: rate of the recording, 4000 to 400000. */
  constructor(rateHz: number) {
    this.#rateHz = rateHz;
    this.#slow = new SlowCopy(rateHz, SLOW_HZ);
    this.#tickTo = Math.max(1, Math.round(TICK_SEC * rateHz));
  }

  /** Takes the first channel of a block. */
  add(block: Block): void {
    const input = block[0];
    if (!input || blockLength(block) === 0) return;
    this.#addEnergy(input);
    for (let from = 0; from < input.length; from += CHUNK) {
      this.#addSlow(input.subarray(from, Math.min(input.length, from + CHUNK)));
    }
  }

  /** The trace of what was heard so far; its last 130 ms or so hold no rises yet. */
  result(): Trace {
    const rises = this.#rises();
    return {
      lengthSec: this.#count / this.#rateHz,
      frames: this.#frames,
      ...rises,
      energy: this.#energy.items.slice(0, this.#energy.length),
      edge: this.#edge.items.slice(0, this.#edge.length),
    };
  }

  #addEnergy(input: Float32Array): void {
    let from = 0;
    while (from < input.length) {
      const to = Math.min(input.length, from + this.#tickTo - this.#count);
      let energy = this.#energySum;
      let edge = this.#edgeSum;
      let before = this.#before;
      for (let n = from; n < to; n++) {
        const sample = input[n]!;
        const step = sample - before;
        energy += sample * sample;
        edge += step * step;
        before = sample;
      }
      this.#before = before;
      this.#energySum = energy;
      this.#edgeSum = edge;
      this.#count += to - from;
      from = to;
      if (this.#count === this.#tickTo) this.#tick();
    }
  }

  #tick(): void {
    const size = this.#tickTo - this.#tickFrom;
    const at = this.#energy.room(1);
    this.#edge.room(1);
    this.#energy.items[at] = this.#energySum / size;
    this.#edge.items[at] = this.#edgeSum / size;
    this.#energySum = 0;
    this.#edgeSum = 0;
    this.#tickFrom = this.#tickTo;
    this.#tickTo = Math.max(this.#tickFrom + 1, Math.round((this.#energy.length + 1) * TICK_SEC * this.#rateHz));
  }

  #addSlow(input: Float32Array): void {
    const line = this.#slowLine;
    this.#slowFilled += this.#slow.add(input, line.subarray(this.#slowFilled));
    while (this.#frameFrom + WINDOW <= this.#slowFrom + this.#slowFilled) this.#frame();
    const drop = Math.min(this.#frameFrom - this.#slowFrom, this.#slowFilled);
    line.copyWithin(0, drop, this.#slowFilled);
    this.#slowFrom += drop;
    this.#slowFilled -= drop;
  }

  #frame(): void {
    const start = this.#frameFrom - this.#slowFrom;
    const line = this.#slowLine;
    const work = this.#work;
    const window = this.#window;
    for (let n = 0; n < WINDOW; n++) work[n] = line[start + n]! * window[n]!;
    this.#fft.forward(work, this.#re, this.#im);
    const re = this.#re;
    const im = this.#im;
    const floats = this.#floats;
    for (let n = 0; n < LINES; n++) {
      const bin = n + FIRST_LINE;
      floats[n] = re[bin]! * re[bin]! + im[bin]! * im[bin]!;
    }
    const to = this.#steps.room(LINES);
    const steps = this.#steps.items;
    const bits = this.#bits;
    const scale = (0.5 * STEPS_PER_OCTAVE) / BITS_PER_OCTAVE;
    const zero = STEP_ZERO + 0.5 - scale * BITS_OF_ONE;
    for (let n = 0; n < LINES; n++) {
      const step = scale * bits[n]! + zero;
      steps[to + n] = Math.max(0, Math.min(255, step));
    }
    this.#frames++;
    this.#frameFrom = Math.round(this.#frames * FRAME_SEC * this.#slow.rateHz) - WINDOW / 2;
  }

  #rises(): Pick<Trace, 'riseFrom' | 'riseLine' | 'riseBy'> {
    const steps = this.#steps.items;
    const frames = this.#frames;
    const levels = logLevels(steps, frames);
    const riseFrom = new Uint32Array(frames + 1);
    const line = new Growing((size) => new Uint8Array(size), 4096);
    const by = new Growing((size) => new Float32Array(size), 4096);
    for (let frame = 0; frame < frames; frame++) {
      riseFrom[frame] = line.length;
      if (frame < RISE_FRAMES) continue;
      const now = frame * LINES;
      const then = now - RISE_FRAMES * LINES;
      for (let n = 0; n < LINES; n++) {
        const step = steps[now + n]!;
        const earlier = steps[then + n]!;
        if (step <= earlier) continue;
        const rise = levels[n * 256 + step]! - levels[n * 256 + earlier]!;
        if (rise < LEAST_RISE) continue;
        const at = line.room(1);
        by.room(1);
        line.items[at] = n;
        by.items[at] = rise;
      }
    }
    riseFrom[frames] = line.length;
    return { riseFrom, riseLine: line.items.slice(0, line.length), riseBy: by.items.slice(0, by.length) };
  }
}

/** For every line and step: the logarithm of the level above that line's floor, neper. */
function logLevels(steps: Uint8Array, frames: number): Float32Array {
  const counts = new Uint32Array(LINES * 256);
  const peaks = new Uint32Array(256);
  for (let frame = 0; frame < frames; frame++) {
    let peak = 0;
    for (let n = 0; n < LINES; n++) {
      const step = steps[frame * LINES + n]!;
      counts[n * 256 + step]!++;
      if (step > peak) peak = step;
    }
    peaks[peak]!++;
  }
  const usual = magnitudeOf(quantileStep(peaks, 0, frames, 0.7));
  const table = new Float32Array(LINES * 256);
  for (let n = 0; n < LINES; n++) {
    const noise = 2 * magnitudeOf(quantileStep(counts, n * 256, frames, 0.15));
    const floor = Math.max(noise, FLOOR_SHARE * usual, 1e-9);
    for (let step = 0; step < 256; step++) table[n * 256 + step] = Math.log(magnitudeOf(step) + floor);
  }
  return table;
}

function magnitudeOf(step: number): number {
  return Math.exp((step - STEP_ZERO) / STEPS_PER_NEPER);
}

function quantileStep(counts: Uint32Array, from: number, total: number, share: number): number {
  let seen = 0;
  for (let step = 0; step < 256; step++) {
    seen += counts[from + step]!;
    if (seen >= share * total && seen > 0) return step;
  }
  return 0;
}

/** Reads a sound once, from its beginning to its end, and gives its trace. */
export function listenTo(sound: Sound, cancel?: Cancel): Trace {
  const listener = new TakeListener(sound.rateHz);
  const block = new Float32Array(16384);
  for (let at = 0; at < sound.lengthFrames; at += block.length) {
    throwIfCancelled(cancel);
    const part = block.subarray(0, Math.min(block.length, sound.lengthFrames - at));
    sound.read(at, part);
    listener.add([part]);
  }
  return listener.result();
}
