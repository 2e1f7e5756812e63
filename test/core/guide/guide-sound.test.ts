import { describe, expect, it } from 'vitest';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { GuideSound, type GuideSoundSettings } from '../../../core/guide/guide-sound.ts';
import { instrumentOf } from '../../../core/guide/instrument.ts';
import { PartPlayer } from '../../../core/guide/mock-up.ts';
import type { Score, SoundFamily } from '../../../core/guide/score.ts';
import { keyHz } from '../../../core/guide/temperament.ts';
import { RealFft } from '../../../core/signal/fft.ts';

const RATE = 48000;
const families: readonly SoundFamily[] = ['bowed', 'blown', 'plucked', 'voice', 'struck'];

function play(family: SoundFamily, hz: number, frames: number, cut = frames): Float32Array {
  const note = { fromFrame: 0, toFrame: frames, hz, loudness: 0.8 };
  const player = new PartPlayer([note], instrumentOf(family, RATE), RATE);
  const out = new Float32Array(frames);
  for (let from = 0; from < frames; from += cut) player.addTo(out.subarray(from, Math.min(frames, from + cut)), 1);
  return out;
}

/** Power spectrum of a 131072-frame stretch under a Blackman-Harris window (side lobes -92 dB; Harris 1978). */
function spectrum(samples: Float32Array, from: number): Float64Array {
  const size = 131072;
  const fft = new RealFft(size);
  const input = Float64Array.from({ length: size }, (_, n) => {
    const x = (2 * Math.PI * n) / size;
    const window = 0.35875 - 0.48829 * Math.cos(x) + 0.14128 * Math.cos(2 * x) - 0.01168 * Math.cos(3 * x);
    return window * samples[from + n]!;
  });
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  fft.forward(input, re, im);
  return re.map((value, k) => value * value + im[k]! * im[k]!);
}

/** Hz of the strongest partial near a frequency: parabola through the log powers around the peak. */
function peakHz(power: Float64Array, near: number): number {
  const bin = (near * 131072) / RATE;
  let best = Math.round(bin);
  for (let k = Math.floor(bin) - 4; k <= bin + 4; k++) if (power[k]! > power[best]!) best = k;
  const [a, b, c] = [best - 1, best, best + 1].map((k) => Math.log(power[k]!)) as [number, number, number];
  return ((best + (0.5 * (a - c)) / (a - 2 * b + c)) * RATE) / 131072;
}

describe('the mock-up', () => {
  it.each(families)('%s sounds within 0.5 cent of its key from E2 to C7, in every temperament', (family) => {
    for (const key of [40, 55, 69, 80, 96]) {
      for (const temperament of ['equal', 'meanTone'] as const) {
        const hz = keyHz(key, temperament, 2, 442);
        const found = peakHz(spectrum(play(family, hz, 140_000), 6000), hz);
        expect(Math.abs(1200 * Math.log2(found / hz))).toBeLessThan(0.5);
      }
    }
  });

  it.each(families)(
    '%s has nothing between its partials above -80 dB of the whole, up to C8 (no aliases)',
    (family) => {
      for (const key of [57, 84, 100, 108]) {
        const hz = keyHz(key, 'equal', 0, 440);
        const power = spectrum(play(family, hz, 140_000), 6000);
        const total = power.reduce((sum, one) => sum + one, 0);
        let between = 0;
        for (let k = 0; k < power.length; k++) {
          const partial = (k * RATE) / 131072 / hz;
          // 12 bins around each partial: the window's main lobe and the widening by the note's own decay.
          const away = (Math.abs(partial - Math.round(partial)) * hz * 131072) / RATE;
          if (away > 12 || Math.round(partial) === 0) between += power[k]!;
        }
        expect(10 * Math.log10(between / total), `${family}, key ${key}`).toBeLessThan(-80);
      }
    },
  );

  it('sounds the same however it is cut: 1, 7 and 128 frames at a time', () => {
    const whole = play('voice', 330, 6000);
    for (const cut of [1, 7, 128]) expect(play('voice', 330, 6000, cut)).toEqual(whole);
  });

  it('keeps families within 6 dB of each other', () => {
    const levels = families.map((family) => {
      const samples = play(family, 330, RATE);
      return 10 * Math.log10(samples.reduce((sum, one) => sum + one * one, 0) / samples.length);
    });
    expect(Math.max(...levels) - Math.min(...levels)).toBeLessThan(6);
  });
});

const canon: Score = {
  title: 'Evening canon',
  parts: [0, 1].map((voice) => ({
    id: `part-${voice + 1}`,
    name: `Voice ${voice + 1}`,
    sound: 'blown',
    notes: Array.from({ length: 16 }, (_, n) => ({
      atQuarters: n + 2 * voice,
      lengthQuarters: 1,
      key: 60 + 3 * voice + (n % 5),
      loudness: 0.7,
    })),
  })),
  metres: [{ atBar: 0, beats: 4, unit: 4, groups: null }],
  pickUpQuarters: 0,
  tempo: [{ atQuarters: 0, quartersPerMinute: 100, glides: false }],
  holds: [],
  lengthQuarters: 20,
  notes: [],
};
const plain: GuideSoundSettings = {
  referenceHz: 440,
  temperament: 'equal',
  tonic: 0,
  partGainsDb: {},
  clickDb: 0,
  droneKey: null,
};

function whole(settings: GuideSoundSettings, cut = 4096): Float32Array {
  const plan = planGuide(canon, usualGuide);
  const sound = new GuideSound(canon, plan, settings);
  const out = new Float32Array(plan.lengthFrames);
  for (let from = 0; from < out.length; from += cut) sound.next(out.subarray(from, Math.min(out.length, from + cut)));
  return out;
}
const levelDb = (samples: Float32Array): number =>
  10 * Math.log10(samples.reduce((sum, one) => sum + one * one, 0) / samples.length + 1e-20);

describe('the sound of the guide', () => {
  const plan = planGuide(canon, usualGuide);
  const sound = whole(plain);

  it('is digitally silent in the silence and from 0.5 s after the last cue beat until the cue is over', () => {
    const { silence, cues } = plan;
    expect(sound.subarray(silence.fromFrame, silence.toFrame).every((one) => one === 0)).toBe(true);
    const quiet = sound.subarray(cues[0]!.beatFrames[2]! + 0.5 * RATE, cues[0]!.toFrame);
    expect(quiet.every((one) => one === 0)).toBe(true);
  });

  it('never passes -6 dBFS with two parts, click and tones', () => {
    const peak = sound.reduce((most, one) => Math.max(most, Math.abs(one)), 0);
    expect(peak).toBeGreaterThan(0.1);
    expect(peak).toBeLessThan(0.5);
  });

  it('sounds the same however it is cut', () => {
    const other = whole(plain, 1000);
    expect(levelDb(other.map((one, n) => one - sound[n]!))).toBeLessThan(-180);
  });

  it('leaves a part out, or makes it 12 dB softer', () => {
    const only = (gainDb: number): Float32Array =>
      whole({
        ...plain,
        clickDb: Number.NEGATIVE_INFINITY,
        partGainsDb: { 'part-1': gainDb, 'part-2': Number.NEGATIVE_INFINITY },
      });
    const music = (samples: Float32Array): Float32Array => samples.subarray(plan.musicFrame, plan.musicEndFrame);
    expect(levelDb(music(only(Number.NEGATIVE_INFINITY)))).toBeLessThan(-180);
    expect(levelDb(music(only(0))) - levelDb(music(only(-12)))).toBeCloseTo(12, 5);
  });
});
