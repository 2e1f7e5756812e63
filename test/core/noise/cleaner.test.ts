import { describe, expect, it } from 'vitest';
import { Cleaner, type CleanerOptions } from '../../../core/noise/cleaner.ts';
import { CleaningMeasure } from '../../../core/noise/cleaning-measure.ts';
import { planCleaning } from '../../../core/noise/noise.ts';
import { type Character, settingsOf } from '../../../core/noise/settings.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { processorSuite, runInBlocks, snrDb } from '../../processor-suite.ts';
import { addTone, colouredNoise, type MadeTake, makeTake, powerDb, siSdrDb, toneDb } from './take-signals.ts';

const SEED = 411;

function clean(made: MadeTake, character: Character = 'even', options: CleanerOptions = {}) {
  const settings = settingsOf(character);
  const plan = planCleaning(soundOf(made.take, made.rateHz), settings);
  if (plan.kind !== 'clean') throw new Error(`left alone: ${plan.reason}, seed ${SEED}`);
  const cleaner = new Cleaner(made.rateHz, plan.profile, plan.settings, { clip: plan.study.clip, ...options });
  const [cleaned, removed] = runInBlocks(cleaner, [made.take], 4096);
  return { plan, cleaned: cleaned!, removed: removed! };
}

const profile16 = (() => {
  const made = makeTake({ rateHz: 16000, seed: SEED });
  const plan = planCleaning(soundOf(made.take, 16000), settingsOf('even'));
  if (plan.kind !== 'clean') throw new Error('no plan');
  return plan.profile;
})();

describe('Cleaner in the kernel', () => {
  processorSuite({ make: () => new Cleaner(16000, profile16, settingsOf('even')), inputChannels: 1 });
});

describe('Cleaner in plain TypeScript', () => {
  const make = () => new Cleaner(16000, profile16, settingsOf('even'), { engine: 'plain' });
  processorSuite({ make, inputChannels: 1 });
});

describe('Cleaner that restores clipped tops', () => {
  const clip = { level: 0.45, threshold: 0.441, samples: 100 };
  processorSuite({
    make: () => new Cleaner(16000, profile16, settingsOf('even'), { clip }),
    inputChannels: 1,
    impulse: 'none',
  });
});

describe('both engines', () => {
  it.each(['lsa', 'wiener', 'subtract'] as const)('sound alike by more than 100 dB with the rule %s', (rule) => {
    const made = makeTake({ seed: SEED + 1, hum: true });
    const plan = planCleaning(soundOf(made.take, made.rateHz), settingsOf('even', rule));
    if (plan.kind !== 'clean') throw new Error('no plan');
    const [kernel, plain] = (['kernel', 'plain'] as const).map((engine) =>
      runInBlocks(new Cleaner(made.rateHz, plan.profile, plan.settings, { engine }), [made.take], 4096),
    );
    // Single against double precision.
    expect(snrDb(plain!, kernel!)).toBeGreaterThan(100);
  });
});

describe('cleaning a melody over coloured noise', () => {
  const made = makeTake({ seed: SEED });
  const { cleaned, removed, plan } = clean(made);

  it('takes 24 dB off the noise in the silences before and after', () => {
    const { rateHz } = made;
    for (const [from, to] of [
      [0.3, 2.2],
      [6.9, 8.2],
    ]) {
      const [a, b] = [Math.round(from! * rateHz), Math.round(to! * rateHz)];
      expect(powerDb(made.take, a, b) - powerDb(cleaned, a, b)).toBeGreaterThan(24);
    }
  });

  it('brings the music 4.5 dB nearer to the truth', () => {
    const before = siSdrDb(made.take, made.music, made.musicFrom, made.musicTo);
    const after = siSdrDb(cleaned, made.music, made.musicFrom, made.musicTo);
    expect(after - before).toBeGreaterThan(4.5);
  });

  it('keeps the first 10 ms of each attack within 1.5 dB', () => {
    for (let note = 0; note < 8; note++) {
      const from = Math.round((2.5 + 0.5 * note) * made.rateHz);
      const to = from + Math.round(0.01 * made.rateHz);
      expect(Math.abs(powerDb(cleaned, from, to) - powerDb(made.music, from, to))).toBeLessThan(1.5);
    }
  });

  it('keeps the last 100 ms of the last note within 1.5 dB', () => {
    const to = made.musicTo;
    const from = to - Math.round(0.1 * made.rateHz);
    expect(Math.abs(powerDb(cleaned, from, to) - powerDb(made.music, from, to))).toBeLessThan(1.5);
  });

  it('gives cleaned plus removed equal to the take, 100 dB', () => {
    const sum = cleaned.map((sample, n) => sample + removed[n]!);
    expect(snrDb([made.take], [sum])).toBeGreaterThan(100);
  });

  it('measures its reduction within 1 dB, a kurtosis ratio below 1.2 and harm below -30 dB', () => {
    const measure = new CleaningMeasure(plan.profile, plan.silences);
    measure.add(cleaned.subarray(0, 777), removed.subarray(0, 777));
    measure.add(cleaned.subarray(777), removed.subarray(777));
    const report = measure.result();
    expect(Math.abs(report.reducedDb - plan.settings.reductionDb)).toBeLessThan(1);
    expect(Math.abs(report.levelDbfs + 45)).toBeLessThan(1);
    expect(report.kurtosisRatio).toBeGreaterThan(0.8);
    expect(report.kurtosisRatio).toBeLessThan(1.2);
    expect(report.harmDb).toBeLessThan(-30);
  });

  it('reduces by character: gentle less than even, even less than firm, each within 1 dB of what it says', () => {
    for (const character of ['gentle', 'firm'] as const) {
      const other = clean(made, character);
      const reduced = powerDb(made.take, 10000, 50000) - powerDb(other.cleaned, 10000, 50000);
      expect(Math.abs(reduced - settingsOf(character).reductionDb)).toBeLessThan(1);
    }
  });
});

describe('cleaning hum', () => {
  it('takes lines of the hum down by 20 dB and leaves a note between two of them within 0.5 dB', () => {
    const made = makeTake({ seed: SEED + 2, hum: true, noiseDbfs: -60 });
    const { rateHz } = made;
    // 125 Hz lies halfway between the second and third line.
    const music = made.music.slice().fill(0);
    addTone(music, rateHz, { atSec: 2.5, lengthSec: 4, hz: 125, amplitude: 0.03, decaySec: 100, partials: 1 });
    const { cleaned, plan } = clean({ ...made, music, take: music.map((sample, n) => sample + made.noise[n]!) });
    expect(plan.profile.humHz).toBeCloseTo(50.02, 1);
    const [from, to] = [3 * rateHz, 6 * rateHz];
    expect(Math.abs(toneDb(cleaned, rateHz, 125, from, to) - toneDb(music, rateHz, 125, from, to))).toBeLessThan(0.5);
    for (const order of [1, 3, 4, 5]) {
      const hz = 50.02 * order;
      expect(toneDb(made.noise, rateHz, hz, from, to) - toneDb(cleaned, rateHz, hz, from, to)).toBeGreaterThan(20);
    }
  });
});

describe('special takes', () => {
  it('keeps digital silence at exact zero', () => {
    const made = makeTake({ seed: SEED + 3 });
    const take = made.take.slice();
    take.fill(0, 7 * made.rateHz, 7.5 * made.rateHz);
    const { cleaned, plan } = clean({ ...made, take });
    expect(cleaned.subarray(7 * made.rateHz, 7.5 * made.rateHz).every((sample) => sample === 0)).toBe(true);
    expect(plan.study.digitalSilences.length).toBe(1);
  });

  it('brings a clipped take at least 6 dB nearer to the truth', () => {
    const made = makeTake({ seed: SEED + 4, noiseDbfs: -55 });
    const loud = made.music.map((sample) => 5.5 * sample);
    const take = loud.map((sample, n) => Math.max(-0.6, Math.min(0.6, sample)) + made.noise[n]!);
    const { cleaned, plan } = clean({ ...made, take });
    expect(plan.study.clip?.level).toBeCloseTo(0.6, 2);
    const before = siSdrDb(take, loud, made.musicFrom, made.musicTo);
    expect(siSdrDb(cleaned, loud, made.musicFrom, made.musicTo) - before).toBeGreaterThan(6);
  });

  it('follows noise that is 6 dB louder after the music', () => {
    const made = makeTake({ seed: SEED + 5 });
    const noise = colouredNoise(made.take.length, made.rateHz, -45, SEED + 6);
    const rise = noise.map((sample, n) => sample * 10 ** ((6 * n) / made.take.length / 20));
    const take = made.music.map((sample, n) => sample + rise[n]!);
    const { cleaned } = clean({ ...made, take });
    const [from, to] = [7 * made.rateHz, 8.2 * made.rateHz];
    expect(powerDb(take, from, to) - powerDb(cleaned, from, to)).toBeGreaterThan(22);
  });

  it('refuses a profile of another rate', () => {
    expect(() => new Cleaner(48000, profile16, settingsOf('even'))).toThrow(RangeError);
  });
});
