import { describe, expect, it } from 'vitest';
import { type ComposedJoin, ComposedSound, GLIDE_SEC } from '../../../core/mix/composed-sound.ts';
import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';

const RATE_HZ = 48000;

function noise(seed: number, seconds: number): Sound {
  const random = new Random(seed);
  return soundOf(
    Float32Array.from({ length: seconds * RATE_HZ }, () => 0.1 * random.gaussian()),
    RATE_HZ,
  );
}

function read(sound: Sound, from: number, frames: number): Float32Array {
  const samples = new Float32Array(frames);
  sound.read(from, samples);
  return samples;
}

function levelDb(samples: Float32Array): number {
  return 10 * Math.log10(samples.reduce((sum, value) => sum + value * value, 0) / samples.length);
}

const joinAt = (sec: number, more: Partial<ComposedJoin> = {}): ComposedJoin => ({
  frame: sec * RATE_HZ,
  fadeFrames: 960,
  stepDb: 0,
  tiltDb: 0,
  likeness: 0,
  ...more,
});
const parts = [1, 2, 3].map((seed) => ({ sound: noise(seed, 20), gainDb: 0 }));

describe('a sound composed of passages', () => {
  it('is one part to the bit where there is no join', () => {
    const whole = new ComposedSound([parts[0]!], []);
    expect(read(whole, -100, 5000)).toEqual(read(parts[0]!.sound, -100, 5000));
    expect(whole.lengthFrames).toBe(20 * RATE_HZ);
  });

  it('gives each part to the bit outside the fades, where nothing has to be matched', () => {
    const made = new ComposedSound(parts, [joinAt(5), joinAt(10)]);
    expect(read(made, 0, 5 * RATE_HZ - 480)).toEqual(read(parts[0]!.sound, 0, 5 * RATE_HZ - 480));
    const inner = 5 * RATE_HZ - 960;
    expect(read(made, 5 * RATE_HZ + 480, inner)).toEqual(read(parts[1]!.sound, 5 * RATE_HZ + 480, inner));
    expect(read(made, 10 * RATE_HZ + 480, 9000)).toEqual(read(parts[2]!.sound, 10 * RATE_HZ + 480, 9000));
  });

  it('does not depend on how it is asked for: blocks of 1, 7, 128 and 4096 give the same samples', () => {
    const joins = [
      joinAt(0.25, { stepDb: 3, tiltDb: 2, likeness: 0.4 }),
      joinAt(0.6, { stepDb: -2, fadeFrames: 5760 }),
    ];
    const made = new ComposedSound(
      parts.map((part, n) => ({ ...part, gainDb: n - 1 })),
      joins,
    );
    const whole = read(made, 0, 48_000);
    for (const size of [1, 7, 128, 4096]) {
      const cut = new Float32Array(48_000);
      for (let at = 0; at < cut.length; at += size) made.read(at, cut.subarray(at, Math.min(cut.length, at + size)));
      expect(cut).toEqual(whole);
    }
  });

  it('keeps its power within 0.3 dB across the fade of unlike waves, and of like ones', () => {
    const fadeFrames = 4800;
    for (const [right, likeness] of [
      [parts[1]!, 0],
      [parts[0]!, 1],
    ] as const) {
      const made = new ComposedSound([parts[0]!, right], [joinAt(5, { fadeFrames, likeness })]);
      // 0.3 dB: what 4800 samples of noise scatter by (2 standard deviations).
      expect(Math.abs(levelDb(read(made, 5 * RATE_HZ - 2400, 4800)) + 20)).toBeLessThan(0.3);
    }
  });

  it('meets in the middle of a step of 6 dB and is back at its own level 4 s later', () => {
    const soft = soundOf(
      read(parts[1]!.sound, 0, 20 * RATE_HZ).map((value) => value / 2),
      RATE_HZ,
    );
    const made = new ComposedSound(
      [parts[0]!, { sound: soft, gainDb: 0 }],
      [joinAt(10, { stepDb: 20 * Math.log10(2) })],
    );
    const at = (sec: number): number => levelDb(read(made, sec * RATE_HZ, RATE_HZ / 10));
    expect(Math.abs(at(9.88) - at(10.02))).toBeLessThan(0.3);
    expect(at(10.02)).toBeCloseTo(-23, 0);
    expect(at(10 - GLIDE_SEC - 0.1)).toBeCloseTo(-20, 0);
    expect(at(10 + GLIDE_SEC)).toBeCloseTo(-26, 0);
  });

  it('meets in the middle of a difference of 6 dB in the high part, and leaves the low part as it is', () => {
    const tone = (hz: number): Sound =>
      soundOf(
        Float32Array.from({ length: 20 * RATE_HZ }, (_, n) => 0.1 * Math.sin((2 * Math.PI * hz * n) / RATE_HZ)),
        RATE_HZ,
      );
    for (const [hz, before, after] of [
      [300, -23, -23],
      [5000, -26, -20],
    ] as const) {
      const two = [tone(hz), tone(hz)].map((sound) => ({ sound, gainDb: 0 }));
      const made = new ComposedSound(two, [joinAt(10, { tiltDb: 6 })]);
      const at = (sec: number): number => levelDb(read(made, sec * RATE_HZ, RATE_HZ / 10));
      // 0.15 dB: the filter's ripple.
      expect(Math.abs(at(9.88) - before)).toBeLessThan(0.15);
      expect(Math.abs(at(10.02) - after)).toBeLessThan(0.15);
      expect(Math.abs(at(10 + GLIDE_SEC) + 23.01)).toBeLessThan(0.01);
    }
  });

  it('refuses joins whose fades meet, and as many joins as parts', () => {
    expect(() => new ComposedSound(parts, [joinAt(5), joinAt(5.01)])).toThrow(RangeError);
    expect(() => new ComposedSound(parts, [joinAt(5)])).toThrow(RangeError);
  });
});
