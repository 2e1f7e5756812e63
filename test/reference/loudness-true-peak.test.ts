import { describe, expect, it } from 'vitest';
import { TruePeakMeter } from '../../core/loudness/true-peak.ts';
import { RealFft } from '../../core/signal/fft.ts';
import { Random } from '../../core/signal/random.ts';
import { fadedSine } from '../core/loudness/signals.ts';

function truePeakDbtp(samples: Float32Array): number {
  const meter = new TruePeakMeter(2);
  meter.add([samples, samples]);
  return meter.result().truePeakDbtp;
}

/** Modified Bessel function I0 by its series. */
function besselI0(x: number): number {
  let sum = 1;
  for (let k = 1, term = 1; term > 1e-18 * sum; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/** Low-pass of 2049 taps, Kaiser window of shape 10, cut at 0.96 x 24 kHz of 192 kHz, unit gain at 0 Hz. */
function steepLowPass(): Float64Array {
  const cut = (0.96 * 24000) / 192000;
  const taps = Float64Array.from({ length: 2049 }, (_, k) => {
    const t = k - 1024;
    const sinc = t === 0 ? 2 * cut : Math.sin(2 * Math.PI * cut * t) / (Math.PI * t);
    return sinc * besselI0(10 * Math.sqrt(1 - (t / 1024) ** 2));
  });
  const sum = taps.reduce((total, tap) => total + tap, 0);
  return taps.map((tap) => tap / sum);
}

/**
 * Rows 20-23: at four times the rate fs/6 at 0.50 with one period of fs/4 at 1.00 in it, phase-continuous, low-passed, then
 * every fourth sample from `offset` on.
 */
function burst(offset: number, taps: Float64Array): Float32Array {
  const slow = 24 * 100;
  const wide = new Float64Array(2 * slow + 16);
  for (let n = 0; n < wide.length; n++) {
    const inside = n >= slow && n < slow + 16;
    const place = n < slow ? n : n - slow - 16;
    const fade = Math.min(1, n / 1920, (wide.length - 1 - n) / 1920);
    wide[n] = fade * (inside ? Math.sin((2 * Math.PI * (n - slow)) / 16) : 0.5 * Math.sin((2 * Math.PI * place) / 24));
  }
  return Float32Array.from({ length: Math.floor((wide.length - offset) / 4) }, (_, n) => {
    const middle = 4 * n + offset;
    let sum = 0;
    for (let k = Math.max(-1024, middle - wide.length + 1); k <= Math.min(1024, middle); k++) {
      sum += taps[k + 1024]! * wide[middle - k]!;
    }
    return sum;
  });
}

describe('EBU Tech 3341 (2023), Table 1, true peak', () => {
  const rows: readonly (readonly [number, number, number, number, number])[] = [
    [15, 4, 0.5, 0, -6],
    [16, 4, 0.5, 45, -6],
    [17, 6, 0.5, 60, -6],
    [18, 8, 0.5, 67.5, -6],
    [19, 4, 1.41, 45, 3],
  ];
  for (const [row, part, amplitude, phaseDeg, expected] of rows) {
    it(`CV-1.5 #${row}: fs/${part} at ${amplitude}, ${phaseDeg} degrees, reads ${expected} dBTP within +0.2 / -0.4 dB`, () => {
      const reading = truePeakDbtp(fadedSine(24000, 1 / part, amplitude, phaseDeg, 480));
      expect(reading).toBeLessThanOrEqual(expected + 0.2);
      expect(reading).toBeGreaterThanOrEqual(expected - 0.4);
      // Tighter, against the sine itself: our interpolator is meant to read within 0.1 dB.
      expect(Math.abs(reading - 20 * Math.log10(amplitude))).toBeLessThan(0.1);
    });
  }

  it('CV-1.5 #20-23: one period of fs/4 at 1.00 in fs/6 at 0.50 reads 0.0 dBTP within +0.2 / -0.4 dB at all four offsets', () => {
    const taps = steepLowPass();
    const readings = [0, 1, 2, 3].map((offset) => truePeakDbtp(burst(offset, taps)));
    for (const reading of readings) {
      expect(reading).toBeLessThanOrEqual(0.2);
      expect(reading).toBeGreaterThanOrEqual(-0.4);
      // The low-pass itself takes 0.08 to 0.13 dB.
      expect(Math.abs(reading + 0.1), `${reading} dBTP`).toBeLessThan(0.1);
    }
  });
});

/** A period of 4096 frames of noise below 0.45 of the rate, and the peak of its exact interpolation at 16 times the rate. */
function knownNoise(seed: number): { period: Float64Array; peakDb: number } {
  const random = new Random(seed);
  const short = new RealFft(4096);
  const long = new RealFft(65536);
  const re = new Float64Array(long.bins);
  const im = new Float64Array(long.bins);
  for (let k = 1; k < 0.45 * 4096; k++) {
    re[k] = random.gaussian();
    im[k] = random.gaussian();
  }
  const period = new Float64Array(4096);
  short.inverse(re.slice(0, short.bins), im.slice(0, short.bins), period);
  const fine = new Float64Array(65536);
  long.inverse(re, im, fine);
  const peak = fine.reduce((greatest, value) => Math.max(greatest, Math.abs(value)), 0);
  return { period, peakDb: 20 * Math.log10(16 * peak) };
}

describe('CV-1.6: the interpolator', () => {
  it('reads a sine of any phase up to 0.45 of the rate at most 0.09 dB low and 0.05 dB high', () => {
    // Frequencies of short period, so that the top stays at one place between the frames: the worst case.
    const perFrame = [
      1 / 16,
      1 / 10,
      1 / 8,
      1 / 7,
      1 / 6,
      1 / 5,
      1 / 4,
      3 / 11,
      2 / 7,
      1 / 3,
      3 / 8,
      2 / 5,
      3 / 7,
      4 / 9,
      9 / 20,
    ];
    const wrong: string[] = [];
    for (const f of perFrame) {
      for (let phaseDeg = 0; phaseDeg < 180; phaseDeg += 2.5) {
        const reading = truePeakDbtp(fadedSine(600, f, 1, phaseDeg, 200));
        if (reading < -0.09 || reading > 0.05) wrong.push(`${f}, ${phaseDeg} degrees: ${reading} dBTP`);
      }
    }
    expect(wrong).toEqual([]);
  });

  it('reads noise that fills the band to 0.45 of the rate within 0.1 dB of 16 times interpolation by Fourier transform', () => {
    for (let seed = 71; seed < 79; seed++) {
      const { period, peakDb } = knownNoise(seed);
      const repeated = new Float32Array(3 * period.length);
      for (let n = 0; n < repeated.length; n++) {
        // Faded at both ends, so that the middle period is the only one at full level.
        const edge = Math.min(1, n / period.length, (repeated.length - 1 - n) / period.length);
        repeated[n] = period[n % period.length]! * edge;
      }
      expect(Math.abs(truePeakDbtp(repeated) - peakDb), `seed ${seed}`).toBeLessThan(0.1);
    }
  });

  it('reads closer than an ideal four-times meter can at 0.45 of the rate (0.554 dB)', () => {
    let worst = 0;
    for (let phaseDeg = 0; phaseDeg < 180; phaseDeg += 1) {
      worst = Math.min(worst, truePeakDbtp(fadedSine(600, 0.45, 1, phaseDeg, 200)));
    }
    expect(worst).toBeGreaterThan(-0.09);
  });
});
