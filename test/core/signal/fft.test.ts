import FFT from 'fft.js';
import { describe, expect, it } from 'vitest';
import { RealFft } from '../../../core/signal/fft.ts';
import { Random } from '../../../core/signal/random.ts';
import { ScriptFft } from '../../../core/signal/script-fft.ts';
import { simdFft } from '../../../core/signal/simd-fft.ts';

function spectrumOf(values: readonly number[]): { re: Float64Array; im: Float64Array } {
  const fft = new RealFft(values.length);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  fft.forward(Float64Array.from(values), re, im);
  return { re, im };
}

describe('RealFft', () => {
  it('CV-4.1: gives the DFT vectors of the handbook within 1e-12', () => {
    const ramp = spectrumOf([1, 2, 3, 4, 5, 6, 7, 8]);
    [36, -4, -4, -4, -4].forEach((value, k) => {
      expect(ramp.re[k]).toBeCloseTo(value, 12);
    });
    const expectedIm = [0, 9.6568542495, 4, 1.6568542495, 0];
    expectedIm.forEach((value, k) => {
      expect(ramp.im[k]).toBeCloseTo(value, 9);
    });
    const shifted = spectrumOf([0, 1, 0, 0, 0, 0, 0, 0]);
    expect(shifted.re[1]).toBeCloseTo(Math.SQRT1_2, 10);
    expect(shifted.im[1]).toBeCloseTo(-Math.SQRT1_2, 10);
    const cosine = spectrumOf(Array.from({ length: 8 }, (_, n) => Math.cos((2 * Math.PI * 2 * n) / 8)));
    expect(cosine.re[2]).toBeCloseTo(4, 12);
    const sine = spectrumOf(Array.from({ length: 8 }, (_, n) => Math.sin((2 * Math.PI * n) / 8)));
    expect(sine.im[1]).toBeCloseTo(-4, 12);
  });

  for (const size of [8, 16, 32, 64, 2048, 4096, 65536]) {
    it(`CV-4.1: equals fft.js, keeps Parseval and returns its input at N = ${size}`, () => {
      const random = new Random(size);
      const input = Float64Array.from({ length: size }, () => random.gaussian());
      const fft = new RealFft(size);
      const re = new Float64Array(fft.bins);
      const im = new Float64Array(fft.bins);
      fft.forward(input, re, im);
      const peer = new FFT(size);
      const expected = peer.createComplexArray() as number[];
      peer.realTransform(expected, Array.from(input));
      let errorPower = 0;
      let power = 0;
      let parseval = 0;
      for (let k = 0; k < fft.bins; k++) {
        errorPower += (re[k]! - expected[2 * k]!) ** 2 + (im[k]! - expected[2 * k + 1]!) ** 2;
        const binPower = re[k]! ** 2 + im[k]! ** 2;
        power += binPower;
        parseval += (k === 0 || k === size / 2 ? 1 : 2) * binPower;
      }
      expect(Math.sqrt(errorPower / power), `seed ${size}`).toBeLessThan(1e-14);
      const energy = input.reduce((sum, value) => sum + value * value, 0);
      expect(Math.abs(parseval / size / energy - 1)).toBeLessThan(1e-12);
      const back = new Float64Array(size);
      fft.inverse(re, im, back);
      let backError = 0;
      for (let n = 0; n < size; n++) backError += (back[n]! - input[n]!) ** 2;
      expect(Math.sqrt(backError / energy)).toBeLessThan(1e-14);
    });
  }

  it('refuses a size that is no power of two', () => {
    expect(() => new RealFft(1000)).toThrow(RangeError);
  });
});

describe('the kernel of RealFft', () => {
  for (const size of [64, 128, 512, 1024, 4096, 8192, 16384, 65536]) {
    it(`gives the numbers of plain TypeScript to the last bit at N = ${size}`, () => {
      const random = new Random(900 + size);
      const engines = [new ScriptFft(size), simdFft(size)!];
      const input = Float64Array.from({ length: size }, () => random.gaussian());
      const spectra = engines.map((engine) => {
        const re = new Float64Array(size / 2 + 1);
        const im = new Float64Array(size / 2 + 1);
        engine.forward(input, re, im);
        return { re, im };
      });
      expect(firstOff(spectra[0]!.re, spectra[1]!.re), `seed ${900 + size}`).toBe(-1);
      expect(firstOff(spectra[0]!.im, spectra[1]!.im), `seed ${900 + size}`).toBe(-1);
      const sounds = engines.map((engine) => {
        const sound = new Float64Array(size);
        engine.inverse(spectra[0]!.re, spectra[0]!.im, sound);
        return sound;
      });
      expect(firstOff(sounds[0]!, sounds[1]!), `seed ${900 + size}`).toBe(-1);
    });
  }

  it('serves two transforms of one size in turn', () => {
    const [one, other] = [new RealFft(256), new RealFft(256)];
    const [a, b] = [1, 2].map((seed) => Float64Array.from({ length: 256 }, (_, n) => Math.sin(seed * n)));
    const bins = () => new Float64Array(129);
    const [aRe, aIm, bRe, bIm] = [bins(), bins(), bins(), bins()];
    one.forward(a!, aRe, aIm);
    other.forward(b!, bRe, bIm);
    const back = new Float64Array(256);
    one.inverse(aRe, aIm, back);
    back.forEach((value, n) => {
      expect(value).toBeCloseTo(a![n]!, 13);
    });
  });
});

/** Where two rows first differ, -1 where they do not; 0 and -0 are the same. */
function firstOff(one: Float64Array, other: Float64Array): number {
  return one.findIndex((value, n) => value !== other[n]);
}
