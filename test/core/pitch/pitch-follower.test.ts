import { describe, expect, it } from 'vitest';
import { makeKernelEar } from '../../../core/pitch/kernel-ear.ts';
import { makeKernelFollower } from '../../../core/pitch/kernel-follower.ts';
import { type FollowedTrack, followPlan, type PitchFollower } from '../../../core/pitch/pitch-follower.ts';
import { ScriptFollower } from '../../../core/pitch/script-follower.ts';
import { Random } from '../../../core/signal/random.ts';
import { inRoom, noisy, played, row, tone } from './pitch-kit.ts';

/** Feeds a sound in pieces of the given lengths, in turn. */
function followed(follower: PitchFollower, sound: Float32Array, pieces: readonly number[]): FollowedTrack {
  for (let at = 0, turn = 0; at < sound.length; turn++) {
    const to = Math.min(sound.length, at + pieces[turn % pieces.length]!);
    follower.add(sound.subarray(at, to));
    at = to;
  }
  return follower.end();
}

/** Both forms follow what the kernel's ear hears: by the kernel in pieces, by plain TypeScript in whole ones. */
function both(sound: Float32Array, rateHz: number): readonly [FollowedTrack, FollowedTrack] {
  const plan = followPlan(rateHz);
  const kernel = makeKernelFollower(plan)!;
  const script = new ScriptFollower(plan, makeKernelEar(plan)!);
  return [followed(kernel, sound, [4096, 997, 1, 3000]), followed(script, sound, [4096])];
}

/** Where two rows first differ in any bit but those of NaN, -1 where they do not. */
function firstOff(one: Float64Array, other: Float64Array): number {
  if (one.length !== other.length) return Math.min(one.length, other.length);
  return one.findIndex((value, n) => !Object.is(value, other[n]));
}

function noise(frames: number, seed: number, level = 0.1): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: frames }, () => level * random.gaussian());
}

function late(restSec: number, sound: Float32Array, rateHz: number): Float32Array {
  const whole = new Float32Array(Math.round(restSec * rateHz) + sound.length);
  whole.set(sound, whole.length - sound.length);
  return whole;
}

function mixed(...sounds: readonly Float32Array[]): Float32Array {
  const sum = new Float32Array(Math.max(...sounds.map((sound) => sound.length)));
  for (const sound of sounds) for (let n = 0; n < sound.length; n++) sum[n]! += sound[n]!;
  return sum;
}

const HIGH = [64, 76, 88, 100, 57, 71];
const LOW = [24, 28, 33, 31, 40, 45, 26];

function melody(
  keys: readonly number[],
  family: 'bowed' | 'blown' | 'plucked' | 'voice',
  rateHz: number,
): Float32Array {
  const notes = row(keys, 0.5, 0.1, (index) => 9 * index - 25);
  return noisy(inRoom(played(notes, family, rateHz), 0.5, 4, 21, rateHz), 25, 22);
}

describe('following the pitch in the kernel and in plain TypeScript', () => {
  it.each<readonly [string, number, () => Float32Array]>([
    ['bowed, high', 48000, () => melody(HIGH, 'bowed', 48000)],
    ['bowed, low, which the longer window judges', 48000, () => melody(LOW, 'bowed', 48000)],
    ['blown at the lowest rate', 8000, () => melody([...LOW, ...HIGH], 'blown', 8000)],
    ['plucked, low, at steps of an odd count of frames', 37800, () => melody(LOW, 'plucked', 37800)],
    ['voice', 44100, () => melody([45, 52, 57, 64], 'voice', 44100)],
    ['a high rate', 96000, () => melody([76, 33], 'blown', 96000)],
    ['the highest rate', 384000, () => tone((sec) => (sec < 0.4 ? 311 : 70), 0.8, [0.3, 0.2, 0.1], 384000)],
    [
      'notes that slide into each other',
      22050,
      () => tone((sec) => 220 * 2 ** Math.sin(2 * sec), 6, [0.3, 0.2, 0.1], 22050),
    ],
    ['two notes at once', 16000, () => mixed(melody([60, 62], 'blown', 16000), melody([64, 65], 'blown', 16000))],
    ['noise alone', 12000, () => noise(5 * 12000, 31)],
    [
      'a note after 4 s of digital silence',
      12000,
      () =>
        late(
          4,
          tone(() => 440, 1, [0.3, 0.2], 12000),
          12000,
        ),
    ],
    [
      'a note after 4 s of noise',
      12000,
      () =>
        mixed(
          noise(5 * 12000, 32, 0.001),
          late(
            4,
            tone(() => 82, 1, [0.3, 0.2], 12000),
            12000,
          ),
        ),
    ],
    ['a note so soft that it is taken for silence', 12000, () => tone(() => 330, 1, [2e-5], 12000)],
    ['a click', 48000, () => Float32Array.of(...new Array<number>(3000).fill(0), 1)],
    ['10 samples', 48000, () => noise(10, 33)],
    ['nothing', 48000, () => new Float32Array(0)],
  ])('tells the same to the last bit, however its input is cut: %s, %i Hz', (_name, rateHz, make) => {
    const [kernel, script] = both(make(), rateHz);
    expect(kernel.hz.length).toBeGreaterThan(0);
    for (const name of Object.keys(script) as (keyof FollowedTrack)[]) {
      expect(firstOff(kernel[name], script[name]), name).toBe(-1);
    }
  });

  it('holds a minute of a sound of which the kernel has dropped the oldest many times over', () => {
    const rateHz = 12000;
    const sound = mixed(
      noise(60 * rateHz, 41, 0.01),
      tone((sec) => 100 + 3 * sec, 60, [0.2, 0.1, 0.1], rateHz),
    );
    const [kernel, script] = both(sound, rateHz);
    expect(script.hz.filter((hz) => !Number.isNaN(hz)).length).toBeGreaterThan(5500);
    expect(firstOff(kernel.hz, script.hz)).toBe(-1);
    expect(firstOff(kernel.breakPowers, script.breakPowers)).toBe(-1);
  });
});
