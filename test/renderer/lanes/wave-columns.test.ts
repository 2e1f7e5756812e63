import { describe, expect, it } from 'vitest';
import { Random } from '../../../core/signal/random.ts';
import { PartCache } from '../../../renderer/lanes/part-cache.ts';
import { type Detail, fillColumns, makeColumns } from '../../../renderer/lanes/wave-columns.ts';
import { fourths, pairsOf } from '../../../renderer/lanes/wave-store.ts';

const SEED = 5;
const LENGTH = 50_000;

function noise(): Int16Array {
  const random = new Random(SEED);
  return Int16Array.from({ length: LENGTH }, () => Math.round(60000 * (random.uniform() - 0.5)));
}

function detailOf(samples: Int16Array, frames: number, partItems: number, missing: readonly number[] = []): Detail {
  const values = frames === 1 ? samples : pairsOf(samples, frames);
  const width = frames === 1 ? 1 : 2;
  return {
    frames,
    partItems,
    items: Math.ceil(samples.length / frames),
    part: (n) =>
      missing.includes(n) ? undefined : values.subarray(n * partItems * width, (n + 1) * partItems * width),
  };
}

describe('waveform columns', () => {
  const samples = noise();

  it('hold the lowest and highest of every pair they touch, across parts', () => {
    const columns = makeColumns(100);
    fillColumns(columns, [detailOf(samples, 16, 64)], 160, 320, 0, 100);
    for (const x of [0, 17, 99]) {
      const span = samples.subarray(160 + x * 320, 160 + (x + 1) * 320);
      expect(columns.low[x], `seed ${SEED}, column ${x}`).toBe(Math.min(...span));
      expect(columns.high[x], `seed ${SEED}, column ${x}`).toBe(Math.max(...span));
    }
  });

  it('take what a fine detail does not have yet from a coarser one', () => {
    const columns = makeColumns(40);
    const details = [detailOf(samples, 16, 64, [1]), detailOf(samples, 4096, 100)];
    fillColumns(columns, details, 0, 256, 0, 40);
    // Part 1 of the fine detail is frames 1024 to 2047: columns 4 to 7.
    const coarse = samples.subarray(0, 4096);
    expect(columns.low[5]).toBe(Math.min(...coarse));
    expect(columns.low[8]).toBe(Math.min(...samples.subarray(2048, 2304)));
    expect([...columns.known].every((known) => known === 1)).toBe(true);
  });

  it('stay unknown before and after the take', () => {
    const columns = makeColumns(300);
    fillColumns(columns, [detailOf(samples, 256, 1000)], -10 * 256, 256, 0, 300);
    expect(columns.known[9]).toBe(0);
    expect(columns.known[10]).toBe(1);
    expect(columns.known[10 + Math.ceil(LENGTH / 256)]).toBe(0);
  });

  it('join neighbouring samples by a line when a sample is wider than a pixel', () => {
    const columns = makeColumns(10);
    fillColumns(columns, [detailOf(Int16Array.from([0, 1000, 0]), 1, 8)], 0, 0.1, 0, 10);
    expect(columns.low[0]).toBe(0);
    expect(columns.high[0]).toBe(100);
    expect(columns.low[9]).toBe(900);
    expect(columns.high[9]).toBe(1000);
  });
});

describe('coarser pairs made here', () => {
  it('are those of four times as many samples, the last one of what is left', () => {
    const samples = noise();
    expect(fourths(pairsOf(samples, 16))).toEqual(pairsOf(samples, 64));
  });
});

describe('the cache of parts', () => {
  it('holds no more bytes than it may, and drops what was not used for longest', () => {
    const cache = new PartCache(3000);
    for (const key of ['a', 'b', 'c']) cache.set(key, new Int16Array(500));
    cache.get('a');
    cache.set('d', new Int16Array(500));
    expect(cache.has('b')).toBe(false);
    expect(cache.has('a')).toBe(true);
    expect(cache.heldBytes).toBe(3000);
  });

  it('forgets a waveform whose content changed', () => {
    const cache = new PartCache(9000);
    cache.set('take-1/after/0/0', new Int16Array(10));
    cache.set('take-1/before/0/0', new Int16Array(10));
    cache.forget('take-1/after/');
    expect(cache.heldBytes).toBe(20);
  });
});
