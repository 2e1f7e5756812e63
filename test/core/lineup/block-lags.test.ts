import { describe, expect, it } from 'vitest';
import { type BlockPlan, blockLags } from '../../../core/lineup/block-lags.ts';
import { Random } from '../../../core/signal/random.ts';

const PLAN: BlockPlan = { first: 1000, last: 5000, hop: 160, block: 96, leastLag: 72, mostLag: 736 };
const AT = 3000;
const LAG = 300;

/** Noise of which LAG samples from AT - LAG on are there twice, the second time with so much noise more. */
function doubledNoise(seed: number, more: number): Float64Array {
  const random = new Random(seed);
  const samples = Float64Array.from({ length: 6000 }, () => random.gaussian());
  for (let n = 0; n < LAG; n++) samples[AT + n] = samples[AT + n - LAG]! + more * random.gaussian();
  return samples;
}

describe('what a block of sound is most like before it', () => {
  it.each(['kernel', 'plain'] as const)('is what it was copied from (%s)', (engine) => {
    const { lags, squares } = blockLags(doubledNoise(1, 0), PLAN, engine);
    expect(lags.length).toBe(25);
    for (let n = 0; n < lags.length; n++) {
      const at = PLAN.first + n * PLAN.hop;
      const isCopy = at >= AT && at + PLAN.block <= AT + LAG;
      if (isCopy) expect(lags[n]).toBe(LAG);
      // Noise is like other noise by chance: its likeness has a standard deviation of 1 / sqrt(96), and of 665 some reach 4 of them.
      if (isCopy) expect(squares[n]).toBeGreaterThan(0.99);
      else if (at + PLAN.block <= AT || at >= AT + LAG) expect(squares[n]).toBeLessThan(0.3);
    }
  });

  it('is the same in the kernel and in plain TypeScript, to single precision', () => {
    for (let seed = 2; seed < 6; seed++) {
      const samples = doubledNoise(seed, 0.5);
      const [kernel, plain] = (['kernel', 'plain'] as const).map((engine) => blockLags(samples, PLAN, engine));
      expect([...kernel!.lags]).toEqual([...plain!.lags]);
      for (let n = 0; n < plain!.squares.length; n++) expect(kernel!.squares[n]).toBeCloseTo(plain!.squares[n]!, 5);
    }
  });

  it('is nothing for silence, and holds for any number of lags', () => {
    for (const mostLag of [72, 73, 75, 76, 735]) {
      const plan = { ...PLAN, mostLag };
      expect(Math.max(...blockLags(new Float64Array(6000), plan).squares)).toBe(0);
      const samples = doubledNoise(7, 0.2);
      expect([...blockLags(samples, plan).lags]).toEqual([...blockLags(samples, plan, 'plain').lags]);
    }
  });
});
