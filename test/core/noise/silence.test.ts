import { describe, expect, it } from 'vitest';
import { learnNoise } from '../../../core/noise/learn.ts';
import { learnRoom, planCleaning } from '../../../core/noise/noise.ts';
import { settingsOf } from '../../../core/noise/settings.ts';
import { SilenceFinder } from '../../../core/noise/silence-finder.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addTone, colouredNoise, makeTake } from './take-signals.ts';

const SEED = 907;
const RATE = 24000;

function study(take: Float32Array, step = 4096) {
  const finder = new SilenceFinder(RATE);
  for (let from = 0; from < take.length; from += step) finder.add([take.subarray(from, from + step)]);
  return finder.study();
}

describe('SilenceFinder', () => {
  it('finds the silences before and after the music, with nothing of the music in them', () => {
    const made = makeTake({ seed: SEED });
    const { search } = study(made.take);
    if (search.kind !== 'found') throw new Error(`not found, seed ${SEED}`);
    expect(search.silences.length).toBe(2);
    for (const { fromFrame, toFrame } of search.silences) {
      expect(toFrame <= made.musicFrom || fromFrame >= made.musicTo).toBe(true);
      expect(toFrame - fromFrame).toBeGreaterThan(1.2 * RATE);
    }
    expect(search.confidence).toBeGreaterThan(0.8);
    expect(Math.abs(search.levelDbfs + 45)).toBeLessThan(12);
  });

  it('does not depend on how the take was cut', () => {
    const { take } = makeTake({ seed: SEED + 1 });
    expect(study(take, 1001)).toEqual(study(take, take.length));
  });

  it('leaves out digital zeros and a fade', () => {
    const made = makeTake({ seed: SEED + 2 });
    const take = made.take.slice();
    take.fill(0, 0, RATE);
    for (let n = 7 * RATE; n < take.length; n++) take[n]! *= 10 ** ((-40 * (n - 7 * RATE)) / (1.5 * RATE) / 20);
    const { search, digitalSilences } = study(take);
    if (search.kind !== 'found') throw new Error(`not found, seed ${SEED + 2}`);
    const best = search.silences[0]!;
    expect(best.fromFrame).toBeGreaterThanOrEqual(RATE);
    expect(best.toFrame).toBeLessThanOrEqual(made.musicFrom);
    expect(search.silences.every(({ toFrame }) => toFrame < 7.4 * RATE)).toBe(true);
    expect(digitalSilences[0]).toEqual({ fromFrame: 0, toFrame: RATE });
  });

  it('prefers a silence where the guide expects it', () => {
    const made = makeTake({ seed: SEED + 3 });
    const finder = new SilenceFinder(RATE, { fromFrame: 6.6 * RATE, toFrame: 8.5 * RATE });
    finder.add([made.take]);
    const search = finder.result();
    if (search.kind !== 'found') throw new Error('not found');
    expect(search.silences.some(({ fromFrame }) => fromFrame > made.musicTo)).toBe(true);
  });

  it('tells digital silence, a take of 1 s and a take without any silence apart', () => {
    expect(study(new Float32Array(5 * RATE)).search).toEqual({ kind: 'none', reason: 'digital silence' });
    expect(study(colouredNoise(RATE, RATE, -40, SEED)).search).toEqual({ kind: 'none', reason: 'too short' });
    const busy = colouredNoise(6 * RATE, RATE, -60, SEED);
    for (let n = 0; n < 40; n++) {
      addTone(busy, RATE, { atSec: n * 0.15, lengthSec: 0.15, hz: 200 + 37 * (n % 7), amplitude: 0.2, decaySec: 0.1 });
    }
    expect(study(busy).search).toMatchObject({ kind: 'none', reason: 'all music' });
  });

  it('sees clipped tops, and none where there are none', () => {
    const made = makeTake({ seed: SEED + 4 });
    const loud = made.music.map((sample) => 9 * sample);
    const cut = loud.map((sample, n) => Math.max(-0.8, Math.min(0.8, sample)) + made.noise[n]!);
    expect(study(cut).clip?.level).toBeCloseTo(0.8, 2);
    expect(study(loud).clip).toBeNull();
  });
});

describe('learnNoise', () => {
  it('learns the power of white noise within 0.3 dB, as plain data', () => {
    const take = colouredNoise(4 * RATE, RATE, -40, SEED + 5, 1e6);
    const learnt = learnNoise(soundOf(take, RATE), [{ fromFrame: 0, toFrame: 4 * RATE }]);
    if (learnt.kind !== 'learnt') throw new Error(learnt.reason);
    expect(Math.abs(learnt.profile.levelDbfs + 40)).toBeLessThan(0.3);
    expect(learnt.profile.humHz).toBeNull();
    expect(JSON.parse(JSON.stringify(learnt.profile))).toEqual(learnt.profile);
  });

  it('finds a hum at 60 Hz within 0.05 Hz and a whistle within 1 Hz', () => {
    const take = colouredNoise(4 * RATE, RATE, -60, SEED + 6);
    for (let n = 0; n < take.length; n++) {
      for (let order = 1; order < 7; order++) take[n]! += 0.002 * Math.sin((2 * Math.PI * 59.97 * order * n) / RATE);
      take[n]! += 0.001 * Math.sin((2 * Math.PI * 3551 * n) / RATE);
    }
    const learnt = learnNoise(soundOf(take, RATE), [{ fromFrame: 0, toFrame: take.length }]);
    if (learnt.kind !== 'learnt') throw new Error(learnt.reason);
    expect(Math.abs(learnt.profile.humHz! - 59.97)).toBeLessThan(0.05);
    const whistles = learnt.profile.lines.filter((line) => !line.hum);
    expect(whistles.length).toBe(1);
    expect(Math.abs(whistles[0]!.hz - 3551)).toBeLessThan(1);
    // An amplitude of 0.001 is -60 dBFS.
    expect(Math.abs(whistles[0]!.levelDbfs + 60)).toBeLessThan(1.5);
  });

  it('refuses a stretch that holds music, one that is too short, and digital silence', () => {
    const made = makeTake({ seed: SEED + 7 });
    const sound = soundOf(made.take, RATE);
    expect(learnNoise(sound, [{ fromFrame: 2 * RATE, toFrame: 4 * RATE }])).toMatchObject({
      kind: 'unfit',
      reason: 'holds music',
    });
    expect(learnNoise(sound, [{ fromFrame: 0, toFrame: 0.3 * RATE }])).toMatchObject({ reason: 'too short' });
    const zeros = soundOf(new Float32Array(2 * RATE), RATE);
    expect(learnNoise(zeros, [{ fromFrame: 0, toFrame: 2 * RATE }])).toMatchObject({ reason: 'digital silence' });
  });
});

describe('learnRoom', () => {
  it('tells level, lines and hum of the best silence alone, where only they are asked for, as with all of them', () => {
    const { take } = makeTake({ seed: SEED + 10 });
    const hummed = take.map((sample, n) => {
      let hum = 0;
      for (let order = 1; order < 7; order++) hum += 0.002 * Math.sin((2 * Math.PI * 50 * order * n) / RATE);
      return sample + hum;
    });
    const humsHz: (number | null)[] = [];
    for (const sound of [soundOf(take, RATE), soundOf(hummed, RATE)]) {
      const whole = learnRoom(sound);
      const level = learnRoom(sound, { levelOnly: true });
      if (whole.kind !== 'learnt' || level.kind !== 'learnt') throw new Error('nothing was learnt');
      expect(whole.profile.states.length).toBeGreaterThan(1);
      expect(level.profile.states).toHaveLength(1);
      const { states, ...rest } = whole.profile;
      expect(states).toContainEqual(level.profile.states[0]);
      expect(level).toEqual({ ...whole, profile: { ...rest, states: level.profile.states } });
      humsHz.push(level.profile.humHz);
    }
    expect(humsHz[0]).toBeNull();
    expect(Math.abs(humsHz[1]! - 50)).toBeLessThan(0.1);
    const silent = soundOf(new Float32Array(4 * RATE), RATE);
    expect(learnRoom(silent, { levelOnly: true })).toEqual(learnRoom(silent));
  });
});

describe('planCleaning', () => {
  it('uses the silence the user gave', () => {
    const made = makeTake({ seed: SEED + 8 });
    const given = { fromFrame: RATE, toFrame: 2 * RATE };
    const plan = planCleaning(soundOf(made.take, RATE), settingsOf('even'), { given });
    expect(plan).toMatchObject({ kind: 'clean', how: 'given', confidence: 1, silences: [given] });
  });

  it('backs off when the silence it was given holds the music', () => {
    const made = makeTake({ seed: SEED + 9 });
    const given = { fromFrame: 3 * RATE, toFrame: 5 * RATE };
    const plan = planCleaning(soundOf(made.take, RATE), settingsOf('firm'), { given });
    if (plan.kind !== 'clean') throw new Error(plan.reason);
    expect(plan.backedOff).toBeGreaterThan(0);
    expect(plan.settings.reductionDb).toBeLessThan(settingsOf('firm').reductionDb);
  });

  it('leaves a take alone that has no silence, and says why', () => {
    expect(planCleaning(soundOf(new Float32Array(4 * RATE), RATE), settingsOf('even'))).toMatchObject({
      kind: 'leave',
      reason: 'digital silence',
    });
  });
});
