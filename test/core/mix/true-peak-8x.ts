import type { Block } from '../../../core/signal/block.ts';

const FACTOR = 8;
const HALF = 48;

/** Kaiser-windowed sinc rows (beta 9), one a phase; not the product's filters. */
const rows = Array.from({ length: FACTOR }, (_, phase) =>
  Float64Array.from({ length: 2 * HALF }, (_, i) => {
    const x = i - (HALF - 1) - phase / FACTOR;
    const ratio = x / HALF;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    return Math.abs(ratio) >= 1 ? 0 : (sinc * bessel0(9 * Math.sqrt(1 - ratio * ratio))) / bessel0(9);
  }),
);

function bessel0(x: number): number {
  let sum = 1;
  let term = 1;
  for (let k = 1; k < 50; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/** Greatest magnitude of any channel at eight times the rate, dBTP. A plain meter of the tests' own, as witness. */
export function truePeak8xDb(block: Block): number {
  let greatest = 0;
  for (const samples of block) {
    const padded = new Float64Array(samples.length + 2 * HALF);
    padded.set(samples, HALF);
    const floor = samples.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
    greatest = Math.max(greatest, floor);
    for (let n = HALF; n < padded.length - HALF; n++) {
      // Nothing higher lies between two samples that are both below half of the greatest.
      if (Math.abs(padded[n]!) < 0.5 * floor && Math.abs(padded[n + 1]!) < 0.5 * floor) continue;
      for (let phase = 1; phase < FACTOR; phase++) {
        const row = rows[phase]!;
        let sum = 0;
        for (let i = 0; i < 2 * HALF; i++) sum += row[i]! * padded[n - HALF + 1 + i]!;
        greatest = Math.max(greatest, Math.abs(sum));
      }
    }
  }
  return 20 * Math.log10(greatest);
}
