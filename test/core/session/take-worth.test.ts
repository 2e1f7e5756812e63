import { describe, expect, it } from 'vitest';
import { judgeTakes, proposeTake, type TakeFigures } from '../../../core/session/take-worth.ts';

const take = (takeId: string, more: Partial<TakeFigures> = {}): TakeFigures => ({
  takeId,
  isThere: true,
  mark: 'none',
  musicLufs: -22,
  noiseDbfs: -68,
  clippedSpots: 0,
  clippedSec: 0,
  musicSec: 120,
  musicFromSec: 10,
  confidence: 0.95,
  asks: false,
  scatterMs: null,
  spreadCents: null,
  ...more,
});

const proposed = (...takes: TakeFigures[]) =>
  proposeTake(
    takes,
    judgeTakes(takes),
    takes.map((one) => `Take ${one.takeId}`),
  );

describe('a stretch that lies elsewhere', () => {
  const entry = { fromSec: 41, toSec: 62.4, bars: [9, 16] as const, lateSec: 1.32, share: 0.3 };
  const wordsOf = (more: { bars?: null | readonly [number, number]; lateSec?: number | null }) =>
    judgeTakes([take('a', { scatterMs: 23, astray: [{ ...entry, ...more }] })])[0]!.flaws.map(({ words }) => words);

  it('is a flaw that says where and by how much, also where the other notes scatter by 23 ms only', () => {
    expect(wordsOf({})).toEqual(['bars 9 to 16 lie about 1.3 s late']);
    expect(wordsOf({ bars: [4, 4], lateSec: -0.6 })).toEqual(['bar 4 lies about 0.6 s early']);
    expect(wordsOf({ lateSec: null })).toEqual(['most notes of bars 9 to 16 are not heard']);
    expect(wordsOf({ bars: null })).toEqual(['what belongs at 0:41 to 1:02 lies about 1.3 s late']);
  });

  it('weighs more than notes that scatter by 50 ms, and the sentence says so', () => {
    expect(proposed(take('a', { astray: [entry] }), take('b', { scatterMs: 50 }))).toEqual({
      takeId: 'b',
      reason:
        'Least speaks against it (its notes scatter by 50 ms); Take a is astray (bars 9 to 16 lie about 1.3 s late).',
    });
  });
});

describe('the proposed take', () => {
  it('is none of one take alone, nor where none can be used', () => {
    expect(proposed(take('a'))).toBeNull();
    expect(proposed(take('a', { isThere: false }), take('b', { mark: 'no' }))).toBeNull();
  });

  it('is the one that is not clipped, and the sentence says so', () => {
    expect(proposed(take('a', { clippedSpots: 3, clippedSec: 0.1 }), take('b'))).toEqual({
      takeId: 'b',
      reason: 'Nothing speaks against it; Take a is clipped in 3 spots.',
    });
  });

  it('is the whole one before the quiet one: 40 of 120 s missing weigh more than 22 dB of noise', () => {
    const found = proposed(take('a', { musicSec: 80 }), take('b', { noiseDbfs: -46 }));
    expect(found).toEqual({
      takeId: 'b',
      reason:
        'Least speaks against it (noise only 24 dB below the music); Take a is 40 s shorter than the longest take.',
    });
  });

  it('is not the one whose noise nobody knows, where the other lies 30 dB over its noise', () => {
    expect(proposed(take('a', { noiseDbfs: null, isUncleaned: true }), take('b', { noiseDbfs: -52 }))).toEqual({
      takeId: 'b',
      reason: 'Least speaks against it (noise 30 dB below the music); Take a is not cleaned, its noise not known.',
    });
  });

  it('is the sure one of two, and the tighter one where the scatter is known', () => {
    expect(proposed(take('a', { asks: true }), take('b'))?.reason).toContain('Take a is less sure in time');
    expect(proposed(take('a', { scatterMs: 60 }), take('b', { scatterMs: 20 }))?.takeId).toBe('b');
  });

  it('follows the marks of the player: best wins, no is out, good decides among equals', () => {
    const clipped = { clippedSpots: 5, clippedSec: 1 };
    expect(proposed(take('a'), take('b', { ...clipped, mark: 'best' }))?.reason).toBe('You marked it the best.');
    expect(proposed(take('a', { mark: 'no' }), take('b', clipped))?.reason).toBe(
      'It is the only one that can be used.',
    );
    expect(proposed(take('a'), take('b', { mark: 'good' }))).toEqual({
      takeId: 'b',
      reason: 'As good as the others, and you marked it good.',
    });
    expect(proposed(take('a'), take('b'))?.reason).toBe('The takes are equally good.');
  });
});
