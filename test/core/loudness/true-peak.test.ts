import { describe, expect, it } from 'vitest';
import { loadPeakKernel } from '../../../core/loudness/kernel/peak-kernel.ts';
import type { PeakEngine } from '../../../core/loudness/peak-engine.ts';
import { ScriptPeakEngine } from '../../../core/loudness/script-peak-engine.ts';
import { FramePeaks, PeakFinder, TruePeakMeter } from '../../../core/loudness/true-peak.ts';
import { fadedSine, melodyOf, noiseOf } from './signals.ts';

const engines: readonly (readonly [string, () => PeakEngine])[] = [
  ['in TypeScript', () => new ScriptPeakEngine()],
  ['in WebAssembly', () => loadPeakKernel()!],
];

/** Magnitudes of FramePeaks with the latency taken out; `blockFrames` at a time. */
function framePeaksOf(samples: Float32Array, blockFrames: number, engine?: PeakEngine): Float32Array {
  const follower = new FramePeaks(engine);
  const padded = new Float32Array(samples.length + follower.latencyFrames);
  padded.set(samples);
  const figures = new Float32Array(padded.length);
  for (let from = 0; from < padded.length; from += blockFrames) {
    const to = Math.min(padded.length, from + blockFrames);
    follower.peaksInto(padded.subarray(from, to), figures.subarray(from, to));
  }
  return figures.subarray(follower.latencyFrames);
}

const greatestOf = (values: Float32Array): number => values.reduce((greatest, value) => Math.max(greatest, value), 0);

describe('PeakFinder', () => {
  const signals: readonly (readonly [string, Float32Array])[] = [
    ['a melody', melodyOf(3, 48000, 21)],
    ['noise', noiseOf(30000, 0.2, 22)],
    ['noise that swells', noiseOf(30000, 0.2, 23).map((value, n) => (value * n) / 30000)],
    ['noise that fades', noiseOf(30000, 0.2, 24).map((value, n) => value * (1 - n / 30000))],
    ['rare clicks', Float32Array.from({ length: 20000 }, (_, n) => (n % 3001 === 7 ? 0.3 : 0))],
    ['alternating full scale', Float32Array.from({ length: 5000 }, (_, n) => (n % 2 === 0 ? 1 : -1))],
    ['a step', Float32Array.from({ length: 5000 }, (_, n) => (n < 2500 ? 0 : 1))],
    ['one frame', Float32Array.of(0.5)],
    ['a top at the last frame', Float32Array.from({ length: 4096 }, (_, n) => (n >= 4094 ? 0.5 : 0))],
  ];
  const cases = engines.flatMap(([form, makeEngine]) =>
    signals.map(([name, samples]) => [form, makeEngine, name, samples] as const),
  );
  for (const [form, makeEngine, name, samples] of cases) {
    it(`${form}: finds in ${name} the peak that interpolating every frame finds, though it passes stretches over`, () => {
      const finder = new PeakFinder(makeEngine());
      finder.add(samples);
      const { interpolated, sample } = finder.peaks();
      // The silence around counts too: a top may lie just before the first or after the last frame.
      const around = new Float32Array(samples.length + 64);
      around.set(samples, 32);
      expect(Math.fround(interpolated)).toBe(greatestOf(framePeaksOf(around, 1000, makeEngine())));
      expect(sample).toBe(greatestOf(samples.map(Math.abs)));
      expect(interpolated).toBeGreaterThanOrEqual(sample);
    });
  }

  it('gives in WebAssembly the peaks of the TypeScript within 0.00001 dB', () => {
    for (const [name, samples] of signals) {
      const [script, kernel] = engines.map(([, makeEngine]) => {
        const finder = new PeakFinder(makeEngine());
        finder.add(samples);
        return finder.peaks();
      });
      expect(kernel!.sample, name).toBe(script!.sample);
      expect(Math.abs(20 * Math.log10(kernel!.interpolated / script!.interpolated)), name).toBeLessThan(0.00001);
    }
  });

  it('gives the same peak for blocks of 1, 7, 128, 4096 frames and the whole, asked in between or not', () => {
    const samples = melodyOf(0.7, 48000, 25);
    const whole = new PeakFinder();
    whole.add(samples);
    for (const blockFrames of [1, 7, 128, 4096]) {
      const finder = new PeakFinder();
      for (let from = 0; from < samples.length; from += blockFrames) {
        finder.add(samples, from, Math.min(samples.length, from + blockFrames));
        if (blockFrames === 128) finder.peaks();
      }
      expect(finder.peaks(), `${blockFrames} frames`).toEqual(whole.peaks());
    }
  });

  it('sees a peak at once, wherever the last frame lies', () => {
    for (let frames = 4000; frames < 4300; frames++) {
      const finder = new PeakFinder();
      const samples = new Float32Array(frames);
      samples[frames - 1] = -0.5;
      finder.add(samples);
      expect(finder.peaks().sample, `${frames} frames`).toBe(0.5);
    }
  });
});

describe('FramePeaks', () => {
  it('gives the same figures for blocks of 1, 7, 128, 4096 frames and the whole', () => {
    const samples = melodyOf(0.3, 48000, 26);
    const whole = framePeaksOf(samples, samples.length + 100);
    for (const blockFrames of [1, 7, 128, 4096]) {
      expect(framePeaksOf(samples, blockFrames), `${blockFrames} frames`).toEqual(whole);
    }
  });

  it('gives in WebAssembly the figures of the TypeScript within 1e-6 of full scale', () => {
    const samples = melodyOf(0.5, 48000, 29);
    const [script, kernel] = engines.map(([, makeEngine]) => framePeaksOf(samples, 777, makeEngine()));
    const worst = script!.reduce((most, value, n) => Math.max(most, Math.abs(value - kernel![n]!)), 0);
    expect(worst).toBeLessThan(1e-6);
  });

  it('states its latency: a single frame of 1 reads 1 at that frame, and its ringing less than 0.64 elsewhere', () => {
    const click = new Float32Array(200);
    click[100] = 1;
    const figures = framePeaksOf(click, 64);
    expect(figures[100]).toBe(1);
    for (const n of [0, 80, 98, 102, 120, 199]) expect(figures[n], `frame ${n}`).toBeLessThan(0.64);
    expect(figures[50]).toBe(0);
  });

  it('gives a top midway between two frames to both of them', () => {
    // fs/4 at 45 degrees: samples 0.707, the tops of 1 midway.
    const figures = framePeaksOf(fadedSine(4000, 0.25, 1, 45, 500), 512);
    for (let n = 1000; n < 3000; n++) expect(Math.abs(figures[n]! - 1), `frame ${n}`).toBeLessThan(0.01);
  });

  it('is never below the sample itself', () => {
    const noise = noiseOf(5000, 0.3, 27);
    const figures = framePeaksOf(noise, 333);
    noise.forEach((value, n) => {
      expect(figures[n]).toBeGreaterThanOrEqual(Math.abs(value));
    });
  });

  it('gives 0 for what is quieter than any sound', () => {
    const whisper = melodyOf(1, 48000, 30).map((value) => value * 1e-39);
    expect(greatestOf(framePeaksOf(whisper, 1024))).toBeLessThan(1e-30);
  });

  it('works in place, and refuses an output that is too short', () => {
    const noise = noiseOf(3000, 0.3, 28);
    const apart = new Float32Array(3000);
    new FramePeaks().peaksInto(noise, apart);
    const inPlace = noise.slice();
    new FramePeaks().peaksInto(inPlace, inPlace);
    expect(inPlace).toEqual(apart);
    expect(() => new FramePeaks().peaksInto(noise, new Float32Array(2999))).toThrow(RangeError);
  });
});

describe('TruePeakMeter', () => {
  it('reports each channel, the greatest of all, and -Infinity for silence', () => {
    const meter = new TruePeakMeter(2);
    expect(meter.result()).toEqual({
      samplePeakDbfs: Number.NEGATIVE_INFINITY,
      truePeakDbtp: Number.NEGATIVE_INFINITY,
      channelsDbtp: [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY],
    });
    meter.add([fadedSine(2000, 0.25, 1, 45, 500), fadedSine(2000, 0.25, 0.5, 45, 500)]);
    const report = meter.result();
    expect(report.channelsDbtp[0]).toBeCloseTo(0, 1);
    expect(report.channelsDbtp[1]).toBeCloseTo(-6.02, 1);
    expect(report.truePeakDbtp).toBe(report.channelsDbtp[0]);
    expect(report.samplePeakDbfs).toBeCloseTo(-3.01, 2);
    meter.reset();
    expect(meter.result().truePeakDbtp).toBe(Number.NEGATIVE_INFINITY);
    expect(() => meter.add([new Float32Array(1)])).toThrow(RangeError);
    expect(() => new TruePeakMeter(0)).toThrow(RangeError);
  });
});
