import { describe, expect, it } from 'vitest';
import { bleedKernel } from '../../../core/lineup/bleed/kernel/bleed-kernel.ts';
import { middlesOf, musicStart } from '../../../core/lineup/music-start.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 29;

describe('where music begins', () => {
  it(`finds the middles of windows alike in the kernel and by sorting, also where numbers are equal (seed ${SEED})`, () => {
    const kernel = bleedKernel();
    if (kernel === null) throw new Error('no SIMD in WebAssembly');
    const random = new Random(SEED);
    for (const size of [1, 2, 5, 125]) {
      const energy = Float32Array.from({ length: 40 * size + 3 }, () => Math.floor(50 * random.uniform()) / 7);
      const middles = middlesOf(energy, size, 40, kernel);
      expect(middles).toEqual(middlesOf(energy, size, 40, null));
      expect(middles[39]).toBe(energy.slice(39 * size, 40 * size).sort()[size >> 1]);
    }
  });

  it('finds music that begins after 7 s of room, within half a second, and none in a room alone', () => {
    const random = new Random(SEED);
    const room = (): number => 1e-7 * (1 + random.uniform());
    // A number every 2 ms.
    const energy = Float32Array.from({ length: 10_000 }, (_, n) =>
      n >= 3500 ? 1e-3 * (0.5 + random.uniform()) : room(),
    );
    const levels = { lengthSec: 20, energy, edge: energy };
    expect(Math.abs(musicStart(levels)! - 7)).toBeLessThan(0.5);
    const still = new Float32Array(1000).fill(1e-7);
    expect(musicStart({ lengthSec: 2, energy: still, edge: still })).toBeUndefined();
  });
});
