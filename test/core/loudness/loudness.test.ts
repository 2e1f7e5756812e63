import { describe, expect, it } from 'vitest';
import { integratedLufs, loudnessRangeLu } from '../../../core/loudness/gate.ts';
import { gatedLoudnessLufs, measureLoudness } from '../../../core/loudness/gated-loudness.ts';
import { kWeightingSections, type Section } from '../../../core/loudness/k-weighting.ts';
import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { measure, melodyOf, noiseOf, toneOf } from './signals.ts';

const SILENCE = Number.NEGATIVE_INFINITY;

function powersOf(...lufs: number[]): Float64Array {
  return Float64Array.from(lufs, (value) => 10 ** ((value + 0.691) / 10));
}

describe('LoudnessMeter', () => {
  it('gives the same report for blocks of 1, 7, 128, 4096 frames and the whole', () => {
    const left = melodyOf(4.567, 44100, 1);
    const right = noiseOf(left.length, 0.05, 2);
    const options = { rateHz: 44100, curves: true, truePeak: 'curve' } as const;
    const whole = measure([left, right], options, left.length);
    for (const blockFrames of [1, 7, 128, 4096]) {
      expect(measure([left, right], options, blockFrames), `${blockFrames} frames`).toEqual(whole);
    }
    expect(whole.lengthFrames).toBe(left.length);
  });

  it('gives the same report after reset as a new meter, and the same report when asked twice', () => {
    const melody = melodyOf(4, 48000, 3);
    const meter = new LoudnessMeter({ rateHz: 48000, channels: 1, curves: true, truePeak: 'curve' });
    meter.add([noiseOf(12345, 0.9, 4)]);
    meter.reset();
    meter.add([melody]);
    const fresh = measure([melody], { curves: true, truePeak: 'curve' });
    expect(meter.result()).toEqual(fresh);
    expect(meter.result()).toEqual(fresh);
  });

  it('goes on rightly after a report in the middle', () => {
    const melody = melodyOf(4, 48000, 5);
    const meter = new LoudnessMeter({ rateHz: 48000, channels: 1 });
    for (let from = 0; from < melody.length; from += 1000) {
      meter.add([melody.subarray(from, from + 1000)]);
      meter.result();
    }
    expect(meter.result()).toEqual(measure([melody]));
  });

  it('reads silence, and nothing at all, as -Infinity with a range of 0 LU', () => {
    for (const frames of [0, 48000, 48000 * 5]) {
      const report = measure([new Float32Array(frames)]);
      expect(report).toEqual({
        integratedLufs: SILENCE,
        rangeLu: 0,
        maxMomentaryLufs: SILENCE,
        maxShortTermLufs: SILENCE,
        samplePeakDbfs: SILENCE,
        truePeakDbtp: SILENCE,
        lengthFrames: frames,
      });
    }
    const meter = new LoudnessMeter({ rateHz: 48000, channels: 2 });
    expect(meter.momentaryLufs).toBe(SILENCE);
    expect(meter.shortTermLufs).toBe(SILENCE);
  });

  it('reads exact silence 3 s after a loud passage', () => {
    const meter = new LoudnessMeter({ rateHz: 48000, channels: 1 });
    meter.add([noiseOf(48000, 0.5, 6)]);
    for (let k = 0; k < 8; k++) meter.add([new Float32Array(48000)]);
    expect(meter.shortTermLufs).toBe(SILENCE);
  });

  it('gives curves with an entry per 100 ms that agree with the live readings and the maxima', () => {
    const melody = melodyOf(5.05, 48000, 7);
    const report = measure([melody], { curves: true, truePeak: 'curve' });
    const curves = report.curves!;
    expect(curves.momentaryLufs.length).toBe(50);
    expect(curves.shortTermLufs.length).toBe(50);
    expect(curves.truePeakDbtp.length).toBe(50);
    const meter = new LoudnessMeter({ rateHz: 48000, channels: 1 });
    for (let k = 0; k < 50; k++) {
      meter.add([melody.subarray(4800 * k, 4800 * (k + 1))]);
      expect(meter.momentaryLufs).toBe(curves.momentaryLufs[k]);
      expect(meter.shortTermLufs).toBe(curves.shortTermLufs[k]);
    }
    expect(meter.integratedLufs).toBe(report.integratedLufs);
    expect(Math.max(...curves.momentaryLufs)).toBeLessThanOrEqual(report.maxMomentaryLufs);
    // The curve's figures are kept as Float32.
    expect(Math.max(...curves.truePeakDbtp)).toBeCloseTo(report.truePeakDbtp, 5);
    expect(measure([melody]).curves).toBeUndefined();
  });

  it('counts no incomplete last block (CV-1.3): 399 ms read no integrated loudness, 400 ms do', () => {
    const tone = toneOf([[0.4, -20]]);
    expect(measure([tone.subarray(0, 19199)]).integratedLufs).toBe(SILENCE);
    expect(measure([tone]).integratedLufs).toBeCloseTo(-23.0, 1);
    const longer = new Float32Array(24000 - 1);
    longer.set(tone);
    expect(measure([longer]).integratedLufs).toBe(measure([tone]).integratedLufs);
  });

  it('reads M of a 3 s tone alike, within 0.05 LU (0.25 below 16 kHz, where the shelf bends), at rates whose 10 ms are no whole number of frames', () => {
    for (const rateHz of [8000, 11025, 12345, 22050, 37800, 44056, 192000]) {
      const report = measure([toneOf([[3, -20]], rateHz, 500)], { rateHz, truePeak: 'off', curves: true });
      expect(Math.abs(report.maxMomentaryLufs + 23.66), `${rateHz} Hz`).toBeLessThan(rateHz < 16000 ? 0.25 : 0.05);
      expect(report.curves!.momentaryLufs.length, `${rateHz} Hz`).toBe(30);
    }
  });

  it('leaves a channel of weight 0 out of the loudness and in the peaks', () => {
    const quiet = noiseOf(48000, 0.01, 8);
    const loud = noiseOf(48000, 0.2, 9);
    const report = measure([quiet, loud], { weights: [1, 0] });
    expect(report.integratedLufs).toBe(measure([quiet]).integratedLufs);
    expect(report.truePeakDbtp).toBe(measure([loud]).truePeakDbtp);
  });

  it('gives the sample peak for the true peak when that is off', () => {
    const noise = noiseOf(48000, 0.1, 10);
    const report = measure([noise], { truePeak: 'off' });
    expect(report.truePeakDbtp).toBe(report.samplePeakDbfs);
    expect(report.samplePeakDbfs).toBe(measure([noise]).samplePeakDbfs);
  });

  it('refuses rates, channel counts and weights it does not know, and samples that are not finite', () => {
    expect(() => new LoudnessMeter({ rateHz: 7999, channels: 1 })).toThrow(/rateHz is 7999/);
    expect(() => new LoudnessMeter({ rateHz: 48000 })).toThrow(/channels is undefined/);
    expect(() => new LoudnessMeter({ rateHz: 48000, channels: 3 })).toThrow(/channels is 3/);
    expect(() => new LoudnessMeter({ rateHz: 48000, weights: [] })).toThrow(RangeError);
    expect(() => new LoudnessMeter({ rateHz: 48000, weights: [1, -1] })).toThrow(/weights\[1\] is -1/);
    expect(() => measure([new Float32Array(10)], { channels: 2 })).toThrow(/block has 1 channels/);
    expect(() => measure([Float32Array.from({ length: 960 }, () => Number.NaN)])).toThrow(/frame 480/);
  });
});

/** The whole meter in a few plain lines over the whole sound: oracle of the streaming one. 48 kHz, mono. */
function plainReading(samples: Float32Array): { integrated: number; range: number; maxM: number; maxS: number } {
  const { shelf, lowCut } = kWeightingSections(48000);
  const run = (x: Float64Array, s: Section): Float64Array => {
    const y = new Float64Array(x.length);
    for (let n = 0; n < x.length; n++) {
      y[n] =
        s.b0 * x[n]! +
        s.b1 * (x[n - 1] ?? 0) +
        s.b2 * (x[n - 2] ?? 0) -
        s.a1 * (y[n - 1] ?? 0) -
        s.a2 * (y[n - 2] ?? 0);
    }
    return y;
  };
  const sums = new Float64Array(samples.length + 1);
  run(run(Float64Array.from(samples), shelf), lowCut).forEach((value, n) => {
    sums[n + 1] = sums[n]! + value * value;
  });
  const powers = (window: number, hop: number): number[] => {
    const list: number[] = [];
    for (let to = window; to <= samples.length; to += hop) list.push((sums[to]! - sums[to - window]!) / window);
    return list;
  };
  const lufs = (power: number): number => -0.691 + 10 * Math.log10(power);
  const mean = (list: readonly number[]): number => list.reduce((sum, power) => sum + power, 0) / list.length;
  const blocks = powers(19200, 4800).filter((power) => lufs(power) > -70);
  const windows = powers(144000, 4800).filter((power) => lufs(power) >= -70);
  const sorted = windows
    .map(lufs)
    .filter((level) => level >= lufs(mean(windows)) - 20)
    .sort((a, b) => a - b);
  const percentile = (percent: number): number => sorted[Math.round(((sorted.length - 1) * percent) / 100 + 1) - 1]!;
  return {
    integrated: lufs(mean(blocks.filter((power) => lufs(power) > lufs(mean(blocks)) - 10))),
    range: percentile(95) - percentile(10),
    maxM: lufs(Math.max(...powers(19200, 480))),
    maxS: lufs(Math.max(...powers(144000, 480))),
  };
}

describe('LoudnessMeter beside a plain reckoning over the whole sound', () => {
  it('gives the same I, LRA, max M and max S of a 20 s melody within 1e-6 LU', () => {
    const melody = melodyOf(20, 48000, 12);
    const report = measure([melody], { truePeak: 'off' });
    const plain = plainReading(melody);
    expect(report.integratedLufs).toBeCloseTo(plain.integrated, 6);
    expect(report.rangeLu).toBeCloseTo(plain.range, 6);
    expect(report.maxMomentaryLufs).toBeCloseTo(plain.maxM, 6);
    expect(report.maxShortTermLufs).toBeCloseTo(plain.maxS, 6);
  });
});

describe('gates', () => {
  it('CV-1.3: the absolute gate at -70 LUFS and the relative one at -10 LU let only louder blocks pass', () => {
    expect(integratedLufs(powersOf(-70.01, -70.01))).toBe(SILENCE);
    expect(integratedLufs(powersOf(-69.5, -71))).toBeCloseTo(-69.5, 9);
    // Mean of -20 and -40 is -22.97; the gate at -32.97 leaves -20.
    expect(integratedLufs(powersOf(-20, -40))).toBeCloseTo(-20, 9);
    expect(integratedLufs(powersOf(-20, -30))).toBeCloseTo(10 * Math.log10(0.5 * (0.01 + 0.001)), 9);
  });

  it('CV-1.7: the range is that of the 95th and 10th percentile above both gates', () => {
    const rising = Array.from({ length: 101 }, (_, k) => -30 + k / 10);
    expect(loudnessRangeLu(powersOf(...rising))).toBeCloseTo(8.5, 9);
    expect(loudnessRangeLu(powersOf(...rising, -69, -75, SILENCE))).toBeCloseTo(8.5, 9);
    expect(loudnessRangeLu(powersOf(-23))).toBe(0);
    expect(loudnessRangeLu(powersOf(-80))).toBe(0);
  });
});

describe('measureLoudness', () => {
  it('reads a Sound as the meter reads its samples, 3.01 LU below the same on two channels', () => {
    const melody = melodyOf(3.3, 48000, 11);
    expect(measureLoudness(soundOf(melody, 48000))).toEqual(measure([melody]));
    const mono = gatedLoudnessLufs(soundOf(melody, 48000));
    expect(mono).toBe(measure([melody]).integratedLufs);
    expect(measure([melody, melody]).integratedLufs - mono).toBeCloseTo(3.0103, 4);
  });

  it('stops when asked', () => {
    expect(() => gatedLoudnessLufs(soundOf(new Float32Array(9), 48000), { aborted: true })).toThrow(/Stopped/);
  });
});
