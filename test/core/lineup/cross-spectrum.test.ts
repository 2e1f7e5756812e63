import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { crossSpectrum } from '../../../core/lineup/cross-spectrum.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 47;

describe('a spectrum held against a band of another', () => {
  it.each([
    [2049, 410, 1894],
    [1025, 205, 947],
    [65, 0, 63],
    [33, 7, 12],
  ])(
    `of %i bins, %i to %i, gives the same in the kernel to the last bit as in plain TypeScript (seed ${SEED})`,
    (bins, low, high) => {
      const kernel = bleedKernel();
      if (kernel === null) throw new Error('no SIMD in WebAssembly');
      const random = new Random(SEED);
      const noise = (length: number): Float64Array => Float64Array.from({ length }, () => random.gaussian());
      const [one, two] = [crossSpectrum(bins, { low, high }, kernel), crossSpectrum(bins, { low, high }, null)];
      for (let turn = 0; turn < 2; turn++) {
        const [re, im] = [noise(bins), noise(bins)];
        const band = { re: Float32Array.from(noise(high - low + 1)), im: Float32Array.from(noise(high - low + 1)) };
        const products = [one, two].map((cross) => {
          const spectrum = cross.spectrum();
          spectrum.re.set(re);
          spectrum.im.set(im);
          return cross.with(band);
        });
        expect(products[0]!.re).toEqual(products[1]!.re);
        expect(products[0]!.im).toEqual(products[1]!.im);
        expect(products[0]!.re).toHaveLength(2 * bins - 1);
        // A line of it by its definition; the mean of thirteen lines sums in another order.
        const at = (low + high) >> 1;
        let power = 0;
        for (let k = Math.max(0, at - 6); k <= Math.min(bins - 1, at + 6); k++)
          power += (re[k]! ** 2 + im[k]! ** 2) / 13;
        const wanted = (re[at]! * band.re[at - low]! + im[at]! * band.im[at - low]!) / power;
        expect(Math.abs(products[0]!.re[at]! - wanted)).toBeLessThan(1e-9 * Math.max(1, Math.abs(wanted)));
        expect(products[0]!.re.subarray(high + 1).every((value) => value === 0)).toBe(true);
      }
    },
  );
});
