import { describe, expect, it } from 'vitest';
import { MemoryStore } from '../../../core/lineup/byte-store.ts';
import { loadListenKernel } from '../../../core/lineup/kernel/listen-kernel.ts';
import { readLevels } from '../../../core/lineup/level-gatherer.ts';
import { CHUNK, SlowCopy } from '../../../core/lineup/slow-copy.ts';
import { TakeListener } from '../../../core/lineup/take-listener.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 4711;

/** Silence, notes that begin now and then under noise, a clap, and digital zeros in between. */
function makeSound(rateHz: number, lengthSec: number): Float32Array {
  const random = new Random(SEED);
  const sound = new Float32Array(Math.round(lengthSec * rateHz));
  for (let n = 0; n < sound.length; n++) {
    const sec = n / rateHz;
    const note = Math.floor(sec / 0.4);
    const within = sec - 0.4 * note;
    const hz = 110 * 2 ** ((note % 17) / 12);
    const swell = sec < 1 ? 0 : Math.min(1, within / 0.01) * Math.exp(-4 * within);
    sound[n] = 0.3 * swell * Math.sin(2 * Math.PI * hz * sec) + 0.001 * random.gaussian();
    if (sec > 0.5 && sec < 0.53) sound[n]! += 0.5 * Math.exp(-200 * (sec - 0.5)) * random.gaussian();
    if (sec > 2 && sec < 2.3) sound[n] = 0;
  }
  return sound;
}

/** Cuts a sound into pieces of all lengths and hands them over in order. */
function inPieces(sound: Float32Array, most: number, use: (piece: Float32Array) => void): void {
  const random = new Random(SEED + 1);
  for (let from = 0; from < sound.length; ) {
    const length = 1 + Math.floor(random.uniform() * most);
    use(sound.subarray(from, from + length));
    from += length;
  }
}

describe('TakeListener', () => {
  it('has its kernel here', () => {
    expect(loadListenKernel()).toBeDefined();
  });

  // Below 6000 Hz the copy is as fast as the sound, and a block has most ticks and frames.
  for (const rateHz of [48000, 44100, 22050, 96000, 4000, 5512]) {
    it(`hears the same in the kernel and in plain TypeScript, to the last bit, at ${rateHz} Hz (seed ${SEED})`, () => {
      const sound = makeSound(rateHz, 5);
      const [kernel, plain] = (['kernel', 'plain'] as const).map((engine) => {
        const listener = new TakeListener(rateHz, undefined, engine);
        inPieces(sound, 40000, (piece) => listener.add([piece]));
        // What is asked for on the way changes nothing.
        const halfway = listener.result();
        inPieces(sound, 40000, (piece) => listener.add([piece]));
        return { ...listener.result(), halfway };
      });
      expect(plain!.halfway.frames).toBeGreaterThan(190);
      expect(plain!.frames).toBeGreaterThan(390);
      expect(plain!.riseLine.length).toBeGreaterThan(100);
      expect(kernel).toEqual(plain);
    });
  }

  it('hears the same in both of next to nothing, at the lowest rate and the highest', () => {
    for (const rateHz of [4000, 8000, 400000]) {
      for (const frames of [0, 1, 3, 130, rateHz / 4]) {
        const sound = makeSound(rateHz, 0.25).subarray(0, frames);
        const [kernel, plain] = (['kernel', 'plain'] as const).map((engine) => {
          const listener = new TakeListener(rateHz, undefined, engine);
          listener.add([sound]);
          return listener.result();
        });
        expect(kernel, `${frames} samples at ${rateHz} Hz`).toEqual(plain);
        expect(plain!.energy.length).toBe(Math.floor((frames / rateHz) * 500 + 1e-9));
      }
    }
  });

  it('does not depend on how the sound was cut', () => {
    const sound = makeSound(48000, 3);
    const whole = new TakeListener(48000);
    whole.add([sound]);
    const cut = new TakeListener(48000);
    for (let from = 0; from < sound.length; from += 96) cut.add([sound.subarray(from, from + 96)]);
    const [one, other] = [whole.result(), cut.result()];
    expect(other.riseLine).toEqual(one.riseLine);
    expect(other.energy).toEqual(one.energy);
  });
});

describe('SlowCopy', () => {
  // Factors of 1, 2, 3, 10 and 24: sums with and without a rest behind groups of four.
  for (const [sourceHz, targetHz] of [
    [4000, 4000],
    [8000, 4000],
    [12000, 4000],
    [22050, 2205],
    [96000, 4000],
  ] as const) {
    it(`gives the same in the kernel and in plain TypeScript, to the last bit, from ${sourceHz} to ${targetHz} Hz`, () => {
      const sound = makeSound(sourceHz, 3);
      const [kernel, plain] = (['kernel', 'plain'] as const).map((engine) => {
        const slow = new SlowCopy(sourceHz, targetHz, engine);
        const output = new Float64Array(CHUNK);
        const all: number[] = [];
        inPieces(sound, CHUNK, (piece) => all.push(...output.subarray(0, slow.add(piece, output))));
        return all;
      });
      expect(plain!.length).toBeGreaterThan((2.9 * sourceHz) / new SlowCopy(sourceHz, targetHz).factor);
      expect(kernel).toEqual(plain);
    });
  }
});

describe('levels in a store', () => {
  it('are read to the last bit, in the kernel as in plain TypeScript, however many they are', () => {
    const random = new Random(SEED);
    const pairs = Float32Array.from({ length: 2 * 40_001 }, () => random.gaussian());
    const store = new MemoryStore();
    store.append(new Uint8Array(pairs.buffer));
    for (const ticks of [0, 1, 2, 3, 5, 16384, 16385, 40_001]) {
      for (const engine of ['kernel', 'plain'] as const) {
        const energy = new Float32Array(ticks);
        const edge = new Float32Array(ticks);
        readLevels(store, energy, edge, engine);
        const wrong = energy.findIndex((value, n) => value !== pairs[2 * n] || edge[n] !== pairs[2 * n + 1]);
        expect(wrong, `${engine}, ${ticks} ticks`).toBe(-1);
      }
    }
  });
});
