import { describe, expect, it } from 'vitest';
import { RealFft } from '../../core/signal/fft.ts';
import { Random } from '../../core/signal/random.ts';
import { makeWindow, type WindowShape } from '../../core/signal/window.ts';

/** Figures: Harris 1978, Proc. IEEE 66(1), Table I, recomputed with numpy at N = 4096 (periodic windows). */
const size = 4096;
const figures: readonly {
  readonly shape: WindowShape;
  readonly coherentGain: number;
  readonly enbwBins: number;
  readonly scallopingDb: number;
  readonly sidelobeDb: number;
  readonly overlap75: number;
  readonly overlap50: number;
}[] = [
  {
    shape: 'sine',
    coherentGain: 0.6366,
    enbwBins: 1.2337,
    scallopingDb: 2.0982,
    sidelobeDb: -23.01,
    overlap75: 75.5,
    overlap50: 31.8,
  },
  {
    shape: 'hann',
    coherentGain: 0.5,
    enbwBins: 1.5,
    scallopingDb: 1.4236,
    sidelobeDb: -31.48,
    overlap75: 65.9,
    overlap50: 16.7,
  },
  {
    shape: 'hamming',
    coherentGain: 0.54,
    enbwBins: 1.3628,
    scallopingDb: 1.7514,
    sidelobeDb: -42.68,
    overlap75: 70.7,
    overlap50: 23.4,
  },
  {
    shape: 'blackman',
    coherentGain: 0.42,
    enbwBins: 1.7268,
    scallopingDb: 1.0989,
    sidelobeDb: -58.12,
    overlap75: 56.7,
    overlap50: 9.0,
  },
  {
    shape: 'blackmanHarris',
    coherentGain: 0.3588,
    enbwBins: 2.0044,
    scallopingDb: 0.8256,
    sidelobeDb: -92.03,
    overlap75: 46.0,
    overlap50: 3.8,
  },
];

function sumOf(values: Float64Array, power: number): number {
  return values.reduce((sum, value) => sum + value ** power, 0);
}

/** Highest lobe beside the main one, dB below it, from a spectrum with 32 places a bin. */
function sidelobeDb(window: Float64Array): number {
  const short = 512;
  const every = size / short;
  const fft = new RealFft(short * 32);
  const padded = new Float64Array(short * 32);
  for (let n = 0; n < short; n++) padded[n] = window[n * every]!;
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  fft.forward(padded, re, im);
  const level = re.map((value, k) => Math.hypot(value, im[k]!));
  let at = 1;
  while (level[at]! < level[at - 1]!) at++;
  const highest = level.subarray(at, 32 * 30).reduce((most, value) => Math.max(most, value), 0);
  return 20 * Math.log10(highest / level[0]!);
}

function overlapSums(window: Float64Array, hop: number, power: number): { least: number; most: number } {
  const sums = new Float64Array(hop);
  for (let n = 0; n < window.length; n++) sums[n % hop]! += window[n]! ** power;
  return { least: Math.min(...sums), most: Math.max(...sums) };
}

describe('windows against Harris 1978', () => {
  for (const row of figures) {
    it(`CV-4.2: ${row.shape}: gain, noise bandwidth, scalloping, side lobe and overlap correlation`, () => {
      const window = makeWindow(row.shape, size);
      // Half of the table's last place, and a little for 0.35875 itself.
      expect(Math.abs(sumOf(window, 1) / size - row.coherentGain)).toBeLessThan(0.51e-4);
      expect((size * sumOf(window, 2)) / sumOf(window, 1) ** 2).toBeCloseTo(row.enbwBins, 4);
      let re = 0;
      let im = 0;
      for (let n = 0; n < size; n++) {
        re += window[n]! * Math.cos((Math.PI * n) / size);
        im += window[n]! * Math.sin((Math.PI * n) / size);
      }
      expect(-20 * Math.log10(Math.hypot(re, im) / sumOf(window, 1))).toBeCloseTo(row.scallopingDb, 4);
      // 0.02 dB: the place of the lobe's top between two of the 32 places a bin, and N = 512 instead of 4096.
      expect(Math.abs(sidelobeDb(window) - row.sidelobeDb)).toBeLessThan(0.02);
      for (const [hop, percent] of [
        [size / 4, row.overlap75],
        [size / 2, row.overlap50],
      ] as const) {
        let shared = 0;
        for (let n = 0; n + hop < size; n++) shared += window[n]! * window[n + hop]!;
        expect((100 * shared) / sumOf(window, 2)).toBeCloseTo(percent, 1);
      }
    });
  }

  it('CV-4.3: overlap-add sums are constant to 1e-12 where the table says so, and ripple where it says so', () => {
    const constant: readonly (readonly [WindowShape, number, number, number])[] = [
      ['hann', 2, 1, 1],
      ['hann', 4, 1, 2],
      ['hann', 8, 1, 4],
      ['hann', 4, 2, 1.5],
      ['hann', 8, 2, 3],
      ['sine', 2, 2, 1],
      ['sine', 4, 2, 2],
      ['hamming', 2, 1, 1.08],
      ['hamming', 4, 1, 2.16],
      ['blackman', 4, 1, 1.68],
    ];
    for (const [shape, parts, power, sum] of constant) {
      const { least, most } = overlapSums(makeWindow(shape, size), size / parts, power);
      expect(Math.abs(least - sum)).toBeLessThan(1e-12);
      expect(Math.abs(most - sum)).toBeLessThan(1e-12);
    }
    const squared = overlapSums(makeWindow('hann', size), size / 2, 2);
    expect(squared.least).toBeCloseTo(0.5, 6);
    expect(squared.most).toBeCloseTo(1, 6);
    const blackman = overlapSums(makeWindow('blackman', size), size / 2, 1);
    expect(blackman.most - blackman.least).toBeGreaterThan(0.1);
  });

  it('CV-4.3: analysis and synthesis with the sine window at 75 % return noise to 1e-12', () => {
    const seed = 43;
    const random = new Random(seed);
    const length = 1024;
    const hop = length / 4;
    const input = Float64Array.from({ length: 20 * hop }, () => random.gaussian());
    const output = new Float64Array(input.length);
    const window = makeWindow('sine', length);
    const fft = new RealFft(length);
    const re = new Float64Array(fft.bins);
    const im = new Float64Array(fft.bins);
    for (let at = 0; at + length <= input.length; at += hop) {
      fft.forward(
        input.slice(at, at + length).map((value, n) => value * window[n]!),
        re,
        im,
      );
      const back = new Float64Array(length);
      fft.inverse(re, im, back);
      for (let n = 0; n < length; n++) output[at + n]! += (back[n]! * window[n]!) / 2;
    }
    for (let n = length; n < input.length - length; n++) {
      expect(Math.abs(output[n]! - input[n]!), `seed ${seed}`).toBeLessThan(1e-12);
    }
  });
});
