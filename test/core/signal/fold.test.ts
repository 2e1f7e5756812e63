import { describe, expect, test } from 'vitest';
import { FoldMeter, type FoldPlan, fold } from '../../../core/signal/fold.ts';
import { Random } from '../../../core/signal/random.ts';

const RATE_HZ = 48000;
const FRAMES = 4 * RATE_HZ;

function noise(seed: number, level: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: FRAMES }, () => level * random.gaussian());
}

/** A scale of plucked tones with many partials, as music has. */
function music(seed: number): Float32Array {
  const random = new Random(seed);
  const samples = new Float32Array(FRAMES);
  for (let note = 0; note < 14; note++) {
    const pitchHz = 196 * 2 ** (note / 12);
    const from = note * 13000;
    const phases = Array.from({ length: 16 }, () => 2 * Math.PI * random.uniform());
    for (let n = 0; n < 16000 && from + n < FRAMES; n++) {
      let value = 0;
      for (let p = 1; p <= 16; p++) value += Math.sin((2 * Math.PI * pitchHz * p * n) / RATE_HZ + phases[p - 1]!) / p;
      samples[from + n]! += 0.08 * Math.exp(-n / 9000) * value;
    }
  }
  return samples;
}

function plus(a: Float32Array, b: Float32Array, gain = 1): Float32Array {
  return a.map((value, n) => value + gain * b[n]!);
}

function delayed(samples: Float32Array, frames: number): Float32Array {
  const later = new Float32Array(FRAMES);
  later.set(samples.subarray(0, FRAMES - frames), frames);
  return later;
}

function measure(channels: readonly Float32Array[], size = FRAMES): FoldPlan {
  const meter = new FoldMeter(RATE_HZ);
  for (let from = 0; from < FRAMES; from += size)
    meter.add(channels.map((samples) => samples.subarray(from, from + size)));
  return meter.result();
}

function folded(channels: readonly Float32Array[], plan: FoldPlan): Float32Array {
  const out = new Float32Array(FRAMES);
  fold(channels, plan, out);
  return out;
}

function levelDb(samples: Float32Array): number {
  return 10 * Math.log10(samples.reduce((sum, value) => sum + value * value, 0) / samples.length);
}

const tune = music(1);

describe('two channels of one microphone', () => {
  test('identical ones keep their samples', () => {
    const plan = measure([tune, tune]);
    expect(plan.reason).toBe('identical');
    expect(folded([tune, tune], plan)).toEqual(tune);
    expect(plan.note).toBe('');
  });

  test('the sound keeps its level within 0.05 dB and independent noise falls by 3 dB', () => {
    const hiss = [noise(2, 0.005), noise(3, 0.005)] as const;
    const plan = measure([plus(tune, hiss[0]), plus(tune, hiss[1])]);
    expect(plan.reason).toBe('pair');
    expect(levelDb(folded([tune, tune], plan)) - levelDb(tune)).toBeCloseTo(0, 1);
    // 3.01 dB is the mean of two; 0.1 dB is what two seconds of noise scatter by.
    expect(levelDb(hiss[0]) - levelDb(folded(hiss, plan))).toBeCloseTo(3.01, 1);
  });

  test('opposite polarity is noticed, and the sound keeps its level within 0.05 dB', () => {
    const upsideDown = tune.map((value) => -value);
    const channels = [plus(tune, noise(4, 0.002)), plus(upsideDown, noise(5, 0.002))];
    const plan = measure(channels);
    expect(plan.reason).toBe('opposite');
    expect(plan.correlation).toBeLessThan(-0.9);
    expect(levelDb(folded([tune, upsideDown], plan)) - levelDb(tune)).toBeCloseTo(0, 1);
    expect(plan.note).toContain('opposite polarity');
  });

  test('a channel of digital silence is left out, and the other keeps its level', () => {
    const plan = measure([new Float32Array(FRAMES), tune]);
    expect(plan).toMatchObject({ reason: 'dead', weights: [0, 1], levelDifferenceDb: Number.NEGATIVE_INFINITY });
    expect(folded([new Float32Array(FRAMES), tune], plan)).toEqual(tune);
    expect(plan.note).toContain('left channel');
  });

  test('a channel that only hisses 20 dB below is left out', () => {
    expect(measure([tune, noise(6, 0.0075)])).toMatchObject({ reason: 'dead', weights: [1, 0] });
  });

  test('a weaker channel of the same sound weighs less, and the sound keeps its mean power', () => {
    const channels = [plus(tune, noise(7, 0.001)), plus(tune, noise(8, 0.001)).map((value) => 0.4 * value)];
    const plan = measure(channels);
    expect(plan.reason).toBe('pair');
    expect(plan.levelDifferenceDb).toBeCloseTo(7.96, 1);
    expect(plan.weights[0]! / plan.weights[1]!).toBeCloseTo(2.5, 1);
    const meanPowerDb = levelDb(tune) + 10 * Math.log10((1 + 0.16) / 2);
    const sound = folded([tune, tune.map((value) => 0.4 * value)], plan);
    expect(levelDb(sound)).toBeCloseTo(meanPowerDb, 1);
  });
});

test('two sides of a room that have little in common are averaged', () => {
  const sides = [20, 21].map((seed) => plus(tune, noise(seed, 0.03)));
  expect(measure(sides)).toMatchObject({ reason: 'pair', weights: [0.5, 0.5] });
});

describe('two microphones of a phone', () => {
  test('0.5 ms apart would cancel at 1 kHz: the quieter-noised channel alone is used', () => {
    const channels = [plus(tune, noise(9, 0.004)), plus(delayed(tune, 24), noise(10, 0.001))];
    const plan = measure(channels);
    expect(plan.reason).toBe('comb');
    expect(plan.delaySec).toBeCloseTo(0.0005, 4);
    expect(plan.combLossDb).toBeGreaterThan(6);
    expect(plan.weights).toEqual([0, 1]);
    expect(plan.note).toContain('0.50 ms');
  });

  test('the earlier one may be the second', () => {
    expect(measure([delayed(tune, 24), plus(tune, noise(11, 0.001))]).delaySec).toBeCloseTo(-0.0005, 4);
  });

  test('0.02 ms apart are added', () => {
    const channels = [plus(tune, noise(12, 0.001)), plus(delayed(tune, 1), noise(13, 0.001))];
    const plan = measure(channels);
    expect(plan.reason).toBe('pair');
    expect(plan.combLossDb).toBeLessThan(3);
  });
});

test('one channel stays as it is', () => {
  const plan = measure([tune]);
  expect(plan.reason).toBe('mono');
  expect(folded([tune], plan)).toEqual(tune);
});

test('of more channels the first two are used, and the note says so', () => {
  const plan = measure([tune, tune, noise(14, 0.1), noise(15, 0.1)]);
  expect(plan.weights).toEqual([0.5, 0.5, 0, 0]);
  expect(plan.note).toContain('4 channels');
});

test('digital silence in both gives finite weights', () => {
  const none = new Float32Array(FRAMES);
  expect(measure([none, none]).weights).toEqual([0.5, 0.5]);
});

test('the plan does not depend on how the sound was cut', () => {
  const channels = [plus(tune, noise(16, 0.003)), plus(delayed(tune, 10), noise(17, 0.003))];
  const whole = measure(channels);
  for (const size of [777, 4096, 16384]) {
    const cut = measure(channels, size);
    expect(cut.reason).toBe(whole.reason);
    expect(cut.combLossDb).toBeCloseTo(whole.combLossDb, 9);
    expect(cut.weights[0]!).toBeCloseTo(whole.weights[0]!, 9);
  }
});
