import { describe, expect, it } from 'vitest';
import { HarmonicRefiner } from '../../../core/pitch/harmonic-refiner.ts';

const SIZE = 1024;
const RATE_HZ = 12000;

/** Powers of a window in which some partials of some pitches stand over next to nothing. */
function windowOf(...tones: readonly { hz: number; numbers: readonly number[]; power: number }[]) {
  const bins = SIZE / 2 + 1;
  const powers = new Float64Array(bins).fill(1e-12);
  for (const { hz, numbers, power } of tones) {
    for (const number of numbers) powers[Math.round((number * hz * SIZE) / RATE_HZ)] = power;
  }
  return { re: new Float64Array(bins), im: new Float64Array(bins), powers };
}

function refiner(): HarmonicRefiner {
  const made = new HarmonicRefiner(SIZE, 120, RATE_HZ);
  made.begin(windowOf({ hz: 200, numbers: [5, 6, 7, 8], power: 100 }, { hz: 1700, numbers: [1, 2, 3], power: 1e-3 }));
  return made;
}

describe('HarmonicRefiner', () => {
  // At 12 kHz partials 1 to 3 of 1700 Hz lie in the band. Partials 5 to 8 of the pitch that was judged before were taken for its own.
  it('judges a high pitch alike, whichever was judged before: three of its partials stand, 50 dB below those of another', () => {
    const alone = { ...refiner().refine(1700, 401) };
    expect(alone.standing).toBe(3);
    const after = refiner();
    expect(after.refine(200, 401).standing).toBeGreaterThan(0);
    expect(after.refine(1700, 401)).toEqual(alone);
  });
});
