import { describe, expect, it } from 'vitest';
import { MixBus } from '../../../core/mix/mixer.ts';
import { Strip, type StripSettings } from '../../../core/mix/strip.ts';
import type { Block } from '../../../core/signal/block.ts';
import { Random } from '../../../core/signal/random.ts';
import { processorSuite, snrDb } from '../../processor-suite.ts';

const plain: StripSettings = { gainDb: 0, placeDeg: 0, lowCutHz: null, muted: false };

function noise(seed: number, frames: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: frames }, () => random.uniform() - 0.5);
}

function levelDb(samples: Float32Array): number {
  return 10 * Math.log10(samples.reduce((sum, value) => sum + value * value, 0) / samples.length);
}

describe('Strip', () => {
  describe('as a Processor, with low cut', () => {
    processorSuite({
      make: () => new Strip({ ...plain, gainDb: 3, placeDeg: -30, lowCutHz: 60 }, 48000),
      inputChannels: 1,
    });
  });

  describe('as a Processor, plain', () => {
    processorSuite({ make: () => new Strip(plain, 48000), inputChannels: 1 });
  });

  it('keeps the power of a mono voice over both sides, at 0 dB, for every place', () => {
    const voice = noise(1, 4800);
    for (const placeDeg of [-90, -45, 0, 10, 90]) {
      const [left, right] = new Strip({ ...plain, placeDeg }, 48000).process([voice]);
      const power = 10 ** (levelDb(left!) / 10) + 10 ** (levelDb(right!) / 10);
      expect(10 * Math.log10(power) - levelDb(voice)).toBeCloseTo(0, 5);
    }
  });

  it('takes 20 Hz down by 19 dB and leaves 120 Hz within 0.3 dB with a low cut at 60 Hz', () => {
    for (const [hz, least, most] of [
      [20, -19.3, -18.9],
      [120, -0.3, 0],
    ] as const) {
      const tone = Float32Array.from({ length: 96_000 }, (_, n) => Math.sin((2 * Math.PI * hz * n) / 48000));
      const [left] = new Strip({ ...plain, placeDeg: -90, lowCutHz: 60 }, 48000).process([tone]);
      const change = levelDb(left!.subarray(48_000)) - levelDb(tone.subarray(48_000));
      expect(change).toBeGreaterThan(least);
      expect(change).toBeLessThan(most);
    }
  });

  it('glides to new settings over 20 ms without a step above 1/500 of the change, and arrives exactly', () => {
    const ones = new Float32Array(4800).fill(1);
    const strip = new Strip({ ...plain, placeDeg: -90 }, 48000);
    strip.process([ones]);
    strip.change({ ...plain, placeDeg: -90, gainDb: -20 });
    const left = strip.process([ones])[0]!.slice();
    for (let n = 1; n < left.length; n++) expect(Math.abs(left[n]! - left[n - 1]!)).toBeLessThan(0.9 / 500);
    expect(left[959]!).toBeCloseTo(0.1, 6);
    expect(left[4000]).toBe(Math.fround(0.1));
    strip.change({ ...plain, placeDeg: -90, muted: true });
    const muted = strip.process([ones])[0]!;
    expect(muted[0]!).toBeGreaterThan(0.09);
    expect(muted[960]).toBe(0);
  });

  it('fades its low cut in and out without a click', () => {
    const tone = Float32Array.from({ length: 9600 }, (_, n) => 0.5 * Math.sin((2 * Math.PI * 100 * n) / 48000));
    const strip = new Strip({ ...plain, placeDeg: -90 }, 48000);
    strip.process([tone]);
    strip.change({ ...plain, placeDeg: -90, lowCutHz: 60 });
    const left = strip.process([tone])[0]!;
    const largest = 0.5 * 2 * Math.PI * (100 / 48000);
    for (let n = 1; n < left.length; n++) expect(Math.abs(left[n]! - left[n - 1]!)).toBeLessThan(1.5 * largest);
  });

  it('refuses a place past 90 degrees and a gain that is no number', () => {
    expect(() => new Strip({ ...plain, placeDeg: 91 }, 48000)).toThrow(RangeError);
    expect(() => new Strip({ ...plain, gainDb: Number.NaN }, 48000)).toThrow(RangeError);
  });
});

describe('MixBus', () => {
  const settings: StripSettings[] = [
    { gainDb: 2, placeDeg: -40, lowCutHz: 60, muted: false },
    { gainDb: -3, placeDeg: 5, lowCutHz: null, muted: false },
    { gainDb: 0, placeDeg: 45, lowCutHz: 30, muted: true },
  ];
  const frames = 20_000;
  const voices = [1, 2, 3].map((seed) => noise(seed, frames));

  function mixed(bus: MixBus, size: number): Block {
    const left = new Float32Array(frames);
    const right = new Float32Array(frames);
    for (let from = 0; from < frames; from += size) {
      const [l, r] = bus.process(voices.map((samples) => [samples.slice(from, from + size)]));
      left.set(l!, from);
      right.set(r!, from);
    }
    return [left, right];
  }

  it('gives the sum of its strips, and a muted voice nothing', () => {
    const sum = mixed(new MixBus(settings, 48000), frames);
    const parts = settings.slice(0, 2).map((one, index) => new Strip(one, 48000).process([voices[index]!]));
    for (const side of [0, 1]) {
      const expected = parts[0]![side]!.map((value, n) => value + parts[1]![side]![n]!);
      expect(snrDb([expected], [sum[side]!])).toBeGreaterThan(130);
    }
  });

  it('gives the same sound in blocks of 1, 7, 128 and 4096 frames', () => {
    const whole = mixed(new MixBus(settings, 48000), frames);
    for (const size of [1, 7, 128, 4096]) {
      expect(snrDb(whole, mixed(new MixBus(settings, 48000), size))).toBe(Number.POSITIVE_INFINITY);
    }
  });

  it('lets one voice be heard alone, and all again', () => {
    const bus = new MixBus(settings, 48000);
    bus.setAlone(1, true);
    bus.process(voices.map((samples) => [samples.subarray(0, 960)]));
    const alone = bus.process(voices.map((samples) => [samples.subarray(960, 1920)])).map((side) => side.slice());
    const own = new Strip(settings[1]!, 48000).process([voices[1]!.subarray(960, 1920)]);
    expect(snrDb(own, alone)).toBeGreaterThan(130);
    bus.setAlone(1, false);
    bus.process(voices.map((samples) => [samples.subarray(0, 960)]));
    const all = bus.process(voices.map((samples) => [samples.subarray(960, 1920)]));
    expect(levelDb(all[0]!)).toBeGreaterThan(levelDb(alone[0]!) + 2);
  });

  it('is as new after reset', () => {
    const bus = new MixBus(settings, 48000);
    const first = mixed(bus, 512);
    bus.strips[0]!.change({ ...settings[0]!, gainDb: -40 });
    bus.reset();
    expect(snrDb(first, mixed(bus, 512))).toBe(Number.POSITIVE_INFINITY);
  });

  it('gives silence for no voices, and refuses a wrong number of them', () => {
    expect(new MixBus([], 48000).process([])[0]!.length).toBe(0);
    expect(() => new MixBus(settings, 48000).process([])).toThrow(RangeError);
  });
});
