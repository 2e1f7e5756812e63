import { describe, expect, it } from 'vitest';
import { OwnBreaks } from '../../../core/pitch/own-breaks.ts';
import { Random } from '../../../core/signal/random.ts';

const RASTER = { samplesHz: 12000, stepFrames: 24, hopSec: 0.01, firstSec: -0.005 };
const { samplesHz, stepFrames, hopSec, firstSec } = RASTER;
const TAPS = 8;
const PLACES = 32;

/** The breaks of samples that all lie in memory, with the pitch of all frames known: what the streaming form is held to. */
function wholeBreaks(samples: Float32Array, hz: readonly number[]): number[] {
  let last = hz.find((one) => !Number.isNaN(one)) ?? samplesHz / 60;
  const periods = hz.map((one) => {
    if (!Number.isNaN(one)) last = one;
    return samplesHz / last;
  });
  return Array.from({ length: Math.floor(samples.length / stepFrames) }, (_, step) => {
    const frame = Math.round((((step + 0.5) * stepFrames) / samplesHz - firstSec) / hopSec);
    const period = periods[Math.min(periods.length - 1, frame)]!;
    const whole = Math.floor(period);
    const place = Math.round((period - whole) * PLACES);
    const row = Array.from({ length: TAPS }, (_unused, k) => {
      const x = k - (TAPS / 2 - 1) - place / PLACES;
      const sinc = Math.abs(x) < 1e-9 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
      return sinc * Math.cos((Math.PI * x) / (TAPS + 1.2));
    });
    const total = row.reduce((sum, tap) => sum + tap, 0);
    let sum = 0;
    for (let n = Math.max(whole + TAPS, step * stepFrames); n < (step + 1) * stepFrames; n++) {
      const before = row.reduce((own, tap, k) => own + (tap / total) * samples[n - whole + TAPS / 2 - 1 - k]!, 0);
      sum += (samples[n]! - before) ** 2;
    }
    return sum / (2 * stepFrames);
  });
}

/** Feeds samples; the pitch of a frame is told `lateFrames` after its sound, in turns of 64. */
function streamed(samples: Float32Array, hz: readonly number[], lateFrames: number): Float64Array {
  const breaks = new OwnBreaks(RASTER);
  let settled = 0;
  let power = 0;
  for (let n = 0; n < samples.length; n++) {
    power += samples[n]! ** 2 / stepFrames;
    if ((n + 1) % stepFrames !== 0) continue;
    breaks.addSamples(samples.subarray(n + 1 - stepFrames, n + 1));
    breaks.addStep(power);
    power = 0;
    const frame = Math.floor(n / (samplesHz * hopSec));
    if (frame % 64 === 0) while (settled <= frame - lateFrames && settled < hz.length) breaks.settle(hz[settled++]!);
  }
  while (settled < hz.length) breaks.settle(hz[settled++]!);
  return breaks.result();
}

describe('how little a note repeats, step by step', () => {
  it.each([0, 100, 900])('is what the whole take tells, with the pitch known %i frames late', (lateFrames) => {
    const seed = 71;
    const random = new Random(seed);
    const samples = Float32Array.from({ length: 12 * samplesHz }, (_, n) => {
      const isOn = n > 1.2 * samplesHz && n % samplesHz > 0.1 * samplesHz;
      return (isOn ? 0.2 * Math.sin((2 * Math.PI * 220 * n) / samplesHz) : 0) + 0.01 * random.gaussian();
    });
    const hz = Array.from({ length: 1200 }, (_, n) => {
      if (n < 120 || n % 100 < 10) return Number.NaN;
      return n % 200 < 100 ? 220 : 26 + 4000 * random.uniform();
    });
    const got = streamed(samples, hz, lateFrames);
    const wanted = wholeBreaks(samples, hz);
    expect(got.length).toBe(wanted.length);
    const farthest = Math.max(...wanted.map((one, n) => Math.abs(one - got[n]!)));
    // Rounding of sums in another order.
    expect(farthest, `seed ${seed}`).toBeLessThan(1e-12);
  });

  it('keeps under 12 MB over 10 min, of which the samples alone would take 29', () => {
    const before = process.memoryUsage().arrayBuffers;
    const breaks = new OwnBreaks(RASTER);
    const step = new Float32Array(stepFrames);
    for (let n = 0; n < 600 * samplesHz; n++) {
      step[n % stepFrames] = Math.sin(0.1 * n);
      if ((n + 1) % stepFrames === 0) {
        breaks.addSamples(step);
        breaks.addStep(0.5);
      }
      if ((n + 1) % (64 * samplesHz * hopSec) === 0)
        for (let k = 0; k < 64; k++) breaks.settle((0.1 * samplesHz) / 6.2832);
    }
    // Numbers of all steps, in a row that doubles, and what garbage of it is not swept yet.
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(12e6);
    expect(breaks.result().length).toBe(600 * 500);
  });
});
