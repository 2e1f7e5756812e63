import { describe, expect, it } from 'vitest';
import { findDips, makeDips } from '../../../core/pitch/dips.ts';
import { makeKernelEar } from '../../../core/pitch/kernel-ear.ts';
import { type EarPlan, type PitchEar, WINDOW_FRAMES, type WindowLook } from '../../../core/pitch/pitch-ear.ts';
import { PitchTracker } from '../../../core/pitch/pitch-tracker.ts';
import { ScriptEar } from '../../../core/pitch/script-ear.ts';
import { ScriptFollower } from '../../../core/pitch/script-follower.ts';
import { designBiquad } from '../../../core/signal/biquad.ts';
import { Random } from '../../../core/signal/random.ts';
import { inRoom, noisy, played, row, tone } from './pitch-kit.ts';

const WORK_HZ = 12000;

function planOf(step: number, lengthSec: number): EarPlan {
  const frames = Math.ceil(lengthSec * WORK_HZ);
  return {
    step,
    rumble: designBiquad({ kind: 'highPass', hz: 30, q: Math.SQRT1_2 }, WORK_HZ),
    stepFrames: 24,
    heardFrames: frames + 4096,
    firstHeard: 512,
    slowFrames: frames / 5 + 1024,
    firstSlow: 280,
    shortestLag: 2,
    longestLag: 462,
  };
}

interface Told {
  readonly heard: Float32Array;
  readonly slow: Float64Array;
  readonly steps: number[];
}

/** All that an ear hears of a sound that comes in pieces of the given lengths, in turn, and of a rest of 700 frames after it. */
function told(ear: PitchEar, sound: Float32Array, pieces: readonly number[]): Told {
  const steps: number[] = [];
  let filled = 512;
  const take = (count: number): void => {
    filled += count;
    for (let n = 0; n < ear.stepsEnded; n++) steps.push(ear.stepPowers[n]!, ear.brightPowers[n]!);
  };
  for (let at = 0, turn = 0; at < sound.length; turn++) {
    const to = Math.min(sound.length, at + pieces[turn % pieces.length]!);
    take(ear.add(sound.subarray(at, to)));
    at = to;
  }
  take(ear.flush());
  take(ear.rest(300, true));
  take(ear.rest(400, false));
  return { heard: ear.heard.slice(0, filled), slow: ear.slow.slice(0, ear.slowCount), steps };
}

/** Where two rows first differ, -1 where they do not. */
function firstOff(one: ArrayLike<number>, other: ArrayLike<number>): number {
  if (one.length !== other.length) return Math.min(one.length, other.length);
  return Array.from(one).findIndex((value, n) => value !== other[n]);
}

function noise(frames: number, seed: number, level = 0.1): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: frames }, () => level * random.gaussian());
}

describe("the tracker's ear as a kernel, beside plain TypeScript", () => {
  it.each([1, 2, 4, 8, 32])('hears the same to the last bit at one frame of %i, however its input is cut', (step) => {
    const seed = 300 + step;
    const sound = noise(0.7 * WORK_HZ * step, seed);
    const wanted = told(new ScriptEar(planOf(step, 1)), sound, [4096]);
    expect(wanted.heard.length).toBe(512 + 0.7 * WORK_HZ + 700);
    expect(wanted.steps.length).toBe(2 * Math.floor((0.7 * WORK_HZ + 300) / 24));
    for (const pieces of [[4096], [1, 997, 4096, 3]]) {
      const got = told(makeKernelEar(planOf(step, 1))!, sound, pieces);
      expect(firstOff(got.heard, wanted.heard), `seed ${seed}`).toBe(-1);
      expect(firstOff(got.slow, wanted.slow), `seed ${seed}`).toBe(-1);
      expect(firstOff(got.steps, wanted.steps), `seed ${seed}`).toBe(-1);
    }
  });

  it('goes on as before when the oldest of its rows has been dropped', () => {
    const sound = noise(8000, 41);
    const [whole, dropped] = [makeKernelEar(planOf(4, 1))!, makeKernelEar(planOf(4, 1))!];
    for (const ear of [whole, dropped]) ear.add(sound.subarray(0, 4000));
    dropped.forget(700);
    dropped.forgetSlow(130);
    for (const ear of [whole, dropped]) ear.add(sound.subarray(4000));
    expect(firstOff(dropped.heard.subarray(0, 1700), whole.heard.subarray(700, 2400))).toBe(-1);
    expect(dropped.slowCount).toBe(whole.slowCount - 130);
    expect(firstOff(dropped.slow.subarray(0, 500), whole.slow.subarray(130, 630))).toBe(-1);
  });
});

/** Farthest difference of two rows, relative to the largest number in the second, or a larger one. */
function farthest(one: Float64Array, other: Float64Array, atLeast = 0): number {
  let most = atLeast;
  let off = 0;
  for (let n = 0; n < other.length; n++) {
    most = Math.max(most, Math.abs(other[n]!));
    off = Math.max(off, Math.abs(one[n]! - other[n]!));
  }
  return most === 0 ? off : off / most;
}

/** How far what the two ears see in windows of a sound differs at most. */
function looks(sound: Float32Array): { bins: number; powers: number; weighted: number; normalised: number } {
  const ears = [makeKernelEar(planOf(1, 2))!, new ScriptEar(planOf(1, 2))] as const;
  for (const ear of ears) for (let at = 0; at < sound.length; at += 4096) ear.add(sound.subarray(at, at + 4096));
  const worst = { bins: 0, powers: 0, weighted: 0, normalised: 0 };
  const dips = makeDips();
  for (let begin = 0; begin + WINDOW_FRAMES <= 512 + sound.length; begin += 120) {
    const [got, wanted] = ears.map((ear) => ear.look(begin)) as [WindowLook, WindowLook];
    worst.bins = Math.max(worst.bins, farthest(got.re, wanted.re), farthest(got.im, wanted.im));
    // Where all the sound lies at the window's ends the Hann bins are small differences of large ones.
    const strongest = wanted.re.reduce((most, re, bin) => Math.max(most, re ** 2 + wanted.im[bin]! ** 2), 0);
    worst.powers = Math.max(worst.powers, farthest(got.powers, wanted.powers, strongest));
    worst.weighted = Math.max(worst.weighted, Math.abs(got.weighted - wanted.weighted) / (wanted.weighted + 1e-300));
    // Of one row both find the same dips to the last bit.
    findDips(got.normalised, 2, 462, dips);
    expect(got.dips.count).toBe(dips.count);
    expect(firstOff(got.dips.lags.subarray(0, dips.count), dips.lags.subarray(0, dips.count))).toBe(-1);
    expect(firstOff(got.dips.depths.subarray(0, dips.count), dips.depths.subarray(0, dips.count))).toBe(-1);
    for (let lag = 0; lag <= WINDOW_FRAMES / 2; lag++) {
      worst.normalised = Math.max(worst.normalised, Math.abs(got.normalised[lag]! - wanted.normalised[lag]!));
    }
  }
  return worst;
}

/** A note that ends in silence: what the filter for rumble leaves of it fades far below single precision's least power. */
function ended(): Float32Array {
  const sound = new Float32Array(1.5 * WORK_HZ);
  sound.set(tone(() => 55, 0.5, [0.5, 0.2, 0.1], WORK_HZ));
  return sound;
}

/** Silence of the given level, then a loud note: windows whose second half is so much louder than the first. */
function begun(quiet: number): Float32Array {
  const sound = noise(WORK_HZ, 5, quiet);
  sound.set(
    tone(() => 440, 0.5, [0.5, 0.3], WORK_HZ),
    0.5 * WORK_HZ,
  );
  return sound;
}

describe('what a window shows the kernel, in single precision', () => {
  it.each([
    ['a note', tone((sec) => 196 * 2 ** (0.01 * Math.sin(30 * sec)), 1, [0.3, 0.2, 0.1, 0.05], WORK_HZ)],
    ['noise', noise(WORK_HZ, 3)],
    ['a note at -110 dBFS', tone(() => 330, 0.6, [3e-6, 2e-6], WORK_HZ)],
    ['a note after digital silence', begun(0)],
    ['a note 80 dB above what was before it', begun(5e-5)],
    ['a note that ends in digital silence', ended()],
  ])('is the same within rounding: %s', (_name, sound) => {
    const worst = looks(sound);
    // Ten stages of a transform, each of which rounds to 6e-8 of the strongest bin; powers twice that.
    expect(worst.bins).toBeLessThan(1e-6);
    expect(worst.powers).toBeLessThan(2e-6);
    // Double precision, in another order.
    expect(worst.weighted).toBeLessThan(1e-12);
    // At the first lags of low notes, and where a window is quiet but for its end, differences are a thousandth and less of the
    // powers whose rounding they carry.
    expect(worst.normalised).toBeLessThan(1e-3);
  });
});

/** Tracks a sound with the kernel and without. */
function both(sound: Float32Array, rateHz: number) {
  return [new PitchTracker(rateHz), new PitchTracker(rateHz, (plan) => new ScriptFollower(plan))].map((tracker) => {
    for (let at = 0; at < sound.length; at += 5000) tracker.add([sound.subarray(at, at + 5000)]);
    return tracker.result();
  });
}

describe('the tracker with the kernel and without', () => {
  const keys = [28, 40, 52, 64, 76, 88, 57, 33, 45];
  it.each([
    ['bowed', 48000],
    ['blown', 44100],
    ['plucked', 12000],
    ['voice', 22050],
  ] as const)('tells the same pitch within 0.01 cents in the same frames: %s, %i Hz', (family, rateHz) => {
    const notes = row(keys, 0.5, 0.1, (index) => 7 * index - 20);
    const sound = noisy(inRoom(played(notes, family, rateHz), 0.4, 4, 11, rateHz), 25, 12);
    const [kernel, script] = both(sound, rateHz);
    let off = 0;
    let voiced = 0;
    for (let n = 0; n < script!.hz.length; n++) {
      expect(Number.isNaN(kernel!.hz[n]), `frame ${n}`).toBe(Number.isNaN(script!.hz[n]));
      if (Number.isNaN(script!.hz[n])) continue;
      voiced++;
      off = Math.max(off, Math.abs(1200 * Math.log2(kernel!.hz[n]! / script!.hz[n]!)));
    }
    expect(voiced).toBeGreaterThan(300);
    expect(off).toBeLessThan(0.01);
    expect(farthest(kernel!.roughness, script!.roughness)).toBeLessThan(1e-4);
    expect(farthest(kernel!.levelsDbfs, script!.levelsDbfs)).toBeLessThan(1e-12);
    expect(firstOff(kernel!.stepPowers, script!.stepPowers)).toBe(-1);
    expect(firstOff(kernel!.brightPowers, script!.brightPowers)).toBe(-1);
    expect(farthest(kernel!.breakPowers, script!.breakPowers)).toBeLessThan(1e-6);
  });
});
