import { describe, expect, it } from 'vitest';
import { KWeightedEnergy, kWeightingSections } from '../../../core/loudness/k-weighting.ts';
import { designBiquad } from '../../../core/signal/biquad.ts';
import { type FilterChain, FilterEnergies } from '../../../core/signal/filter-energies.ts';
import { loadFilterKernel } from '../../../core/signal/filters/kernel/filter-kernel.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 815;
const RATE_HZ = 48000;
const { shelf, lowCut } = kWeightingSections(RATE_HZ);
const low = designBiquad({ kind: 'lowPass', hz: 35, q: Math.SQRT1_2 }, RATE_HZ);
const bright = designBiquad({ kind: 'highPass', hz: 2000, q: Math.SQRT1_2 }, RATE_HZ);
const peak = designBiquad({ kind: 'peak', hz: 900, q: 2, gainDb: 9 }, RATE_HZ);
const CHAINS: readonly FilterChain[] = [
  [shelf, lowCut],
  [low, low],
  [bright, bright],
  [peak, lowCut],
];

/** A second of noise, some of it loud, then silence in which the filters die away. */
function makeSound(): Float32Array {
  const random = new Random(SEED);
  return Float32Array.from({ length: 3 * RATE_HZ }, (_, n) =>
    n < RATE_HZ ? 0.2 * random.gaussian() * (n % 7000 < 3000 ? 1 : 0.001) : 0,
  );
}

function energiesOf(chains: readonly FilterChain[], engine: 'kernel' | 'plain', pieceFrames: number): number[] {
  const sound = makeSound();
  const filters = new FilterEnergies(chains, engine);
  const all: number[] = [];
  for (let from = 0; from < sound.length; from += 4800) {
    for (let at = from; at < from + 4800; at += pieceFrames) {
      filters.add(sound, at, Math.min(from + 4800, at + pieceFrames));
    }
    all.push(...chains.map((_, chain) => filters.takeEnergy(chain)), filters.takePower(), filters.takePeak());
  }
  return all;
}

describe('FilterEnergies', () => {
  it('has its kernel here', () => {
    expect(loadFilterKernel()).toBeDefined();
  });

  for (const count of [1, 2, 3, 4]) {
    it(`gives the same in the kernel and in plain TypeScript, to the last bit, behind ${count} chains (seed ${SEED})`, () => {
      const plain = energiesOf(CHAINS.slice(0, count), 'plain', 4800);
      expect(plain[0]).toBeGreaterThan(1);
      expect(energiesOf(CHAINS.slice(0, count), 'kernel', 4800)).toEqual(plain);
      expect(energiesOf(CHAINS.slice(0, count), 'kernel', 37)).toEqual(plain);
    });
  }

  it('weighs as KWeightedEnergy does, to the last bit, alone and beside others', () => {
    const sound = makeSound();
    const known = new KWeightedEnergy(RATE_HZ);
    const alone = new FilterEnergies([[shelf, lowCut]]);
    const beside = new FilterEnergies([...CHAINS.slice(1, 3), CHAINS[0]!]);
    for (let from = 0; from < sound.length; from += 480) {
      for (const one of [known, alone, beside]) one.add(sound, from, from + 480);
      const energy = known.takeEnergy();
      expect(alone.takeEnergy(0)).toBe(energy);
      expect(beside.takeEnergy(2)).toBe(energy);
    }
  });

  it('is as new after reset', () => {
    const sound = makeSound();
    const filters = new FilterEnergies(CHAINS);
    const listen = (): number[] => {
      filters.add(sound);
      return [...CHAINS.map((_, chain) => filters.takeEnergy(chain)), filters.takePower(), filters.takePeak()];
    };
    const first = listen();
    filters.add(sound, 0, 1000);
    filters.reset();
    expect(listen()).toEqual(first);
  });

  it('refuses more than four chains', () => {
    expect(() => new FilterEnergies([...CHAINS, CHAINS[0]!])).toThrow(RangeError);
  });
});
