import { describe, expect, it } from 'vitest';
import { Brightness } from '../../../core/mix/brightness.ts';
import { ComposedSound } from '../../../core/mix/composed-sound.ts';
import { joinPoints, LEAST_FADE_SEC, LONGEST_FADE_SEC, matchJoin } from '../../../core/mix/join.ts';
import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';
import { melodyOf, played, RATE_HZ } from './two-takes.ts';

const JOINS = 100;
const LENGTH_SEC = 9;

interface Tried {
  readonly seed: number;
  readonly kind: string;
  readonly fadeSec: number;
  /** Energy of the second difference in the fade over the most of it around, dB. */
  readonly clickDb: number;
  readonly stepDb: number;
  /** A note of either take begins within the fade, by more than 2 ms. */
  readonly overNote: boolean;
}

/** Most energy of the second difference in 2 ms, between two session times, dB. */
function roughnessDb(sound: Sound, fromSec: number, toSec: number): number {
  const samples = new Float32Array(Math.max(1, Math.round((toSec - fromSec) * RATE_HZ)) + 2);
  sound.read(Math.round(fromSec * RATE_HZ) - 1, samples);
  const width = Math.round(0.002 * RATE_HZ);
  let most = 0;
  let sum = 0;
  const energies: number[] = [];
  for (let n = 1; n + 1 < samples.length; n++) {
    const energy = (samples[n + 1]! - 2 * samples[n]! + samples[n - 1]!) ** 2;
    energies.push(energy);
    sum += energy - (energies[energies.length - 1 - width] ?? 0);
    if (energies.length >= width) most = Math.max(most, sum / width);
  }
  return 10 * Math.log10(most);
}

function tried(seed: number): Tried {
  const random = new Random(seed);
  const notes = melodyOf(random, LENGTH_SEC);
  const left = played(random, notes, LENGTH_SEC);
  const right = played(random, notes, LENGTH_SEC);
  const pair = { left: left.sound, right: right.sound, leftDb: null, rightDb: null };
  const wishedSec = 3 + 3 * random.uniform();
  const { atSec } = joinPoints(pair, wishedSec)[0]!;
  const match = matchJoin(pair, atSec);
  const frame = Math.round(atSec * RATE_HZ);
  const join = {
    frame,
    fadeFrames: Math.round(match.fadeSec * RATE_HZ),
    stepDb: match.stepDb ?? 0,
    tiltDb: match.tiltDb,
    likeness: match.likeness,
  };
  const parts = [left, right].map((take) => ({ sound: take.sound, gainDb: 0 }));
  const made = new ComposedSound(parts, [join]);
  const half = match.fadeSec / 2;
  const around = Math.max(
    roughnessDb(made, atSec - half - 0.15, atSec - half),
    roughnessDb(made, atSec + half, atSec + half + 0.15),
  );
  const inside = roughnessDb(made, atSec - half, atSec + half);
  // How loud each was played is known: what is left of the difference is the step.
  const playedStep = left.gainDb + left.swellDb(atSec) - right.gainDb - right.swellDb(atSec);
  const begins = [...left.beginningsSec, ...right.beginningsSec];
  return {
    seed,
    kind: match.kind,
    fadeSec: match.fadeSec,
    clickDb: inside - around,
    stepDb: playedStep - join.stepDb,
    overNote: begins.some((one) => one > atSec - half && one < atSec + half - 0.002),
  };
}

describe('joins of two takes of a melody', () => {
  const all = Array.from({ length: JOINS }, (_, n) => tried(n + 1));

  // 0.5 dB: noise alone scatters by that (one standard deviation) over the 2 ms that are looked at.
  it('have no click in 100 of 100: the second difference in the fade has no more energy than around it, to 0.5 dB', () => {
    expect(all.filter((one) => one.clickDb > 0.5)).toEqual([]);
  });

  it('have a level step under 0.5 dB in 100 of 100', () => {
    expect(all.filter((one) => Math.abs(one.stepDb) >= 0.5)).toEqual([]);
  });

  it('lie in rests or before notes in 90 of 100, and in 97 of 100 no note begins inside the fade', () => {
    expect(all.filter((one) => one.kind !== 'held').length).toBeGreaterThanOrEqual(90);
    expect(all.filter((one) => one.overNote).length).toBeLessThanOrEqual(3);
  });

  it('have fades of 5 to 120 ms, longer in held tones than in rests', () => {
    const fades = (kind: string): number[] => all.filter((one) => one.kind === kind).map((one) => one.fadeSec);
    expect(Math.min(...all.map((one) => one.fadeSec))).toBeGreaterThanOrEqual(LEAST_FADE_SEC);
    expect(Math.max(...fades('held'))).toBeLessThanOrEqual(LONGEST_FADE_SEC);
    expect(Math.min(...fades('held'))).toBeGreaterThan(Math.max(...fades('rest')));
  });

  it('tell a take that is 4 dB brighter within 1 dB (the takes are played with other notes in tune and time), 10 of 10', () => {
    const errors = Array.from({ length: 10 }, (_, n) => {
      const random = new Random(500 + n);
      const notes = melodyOf(random, LENGTH_SEC);
      const left = played(random, notes, LENGTH_SEC).sound;
      const right = brighter(played(random, notes, LENGTH_SEC).sound, 4);
      const pair = { left, right, leftDb: null, rightDb: null };
      return matchJoin(pair, joinPoints(pair, 4.5)[0]!.atSec).tiltDb + 4;
    });
    expect(errors.filter((error) => Math.abs(error) > 1)).toEqual([]);
  });
});

function brighter(sound: Sound, byDb: number): Sound {
  const brightness = new Brightness(RATE_HZ);
  const wide = new Float32Array(sound.lengthFrames + 2 * brightness.reach);
  sound.read(-brightness.reach, wide);
  const gain = 10 ** (byDb / 20);
  return soundOf(
    Float32Array.from({ length: sound.lengthFrames }, (_, n) => brightness.at(wide, n + brightness.reach, gain)),
    RATE_HZ,
  );
}
