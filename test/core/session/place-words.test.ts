import { describe, expect, it } from 'vitest';
import { laidByHand } from '../../../core/session/by-hand.ts';
import { exactness, placedWords } from '../../../core/session/place-words.ts';
import type { Placement } from '../../../core/session/schema.ts';

describe('a place in words', () => {
  it('tells ms and per cent, tenths of a ms below 10', () => {
    expect(placedWords({ uncertaintySec: 0.015, confidence: 0.951 })).toBe('within 15 ms, confidence 95 %');
    expect(exactness({ uncertaintySec: 0.00032 })).toBe('0.3 ms');
    expect(placedWords({ uncertaintySec: 10, confidence: 0 })).toBe('not known');
  });

  it('of a mark that no clap confirms says so, and no exactness of 0.0 ms', () => {
    expect(placedWords({ uncertaintySec: 0, confidence: 0 })).toBe('as the mark; no clap confirms its place');
    expect(exactness({ uncertaintySec: 0 })).toBe('the mark');
  });

  it('is good to 20 ms where the hand moved such a mark', () => {
    const mark: Placement = {
      ...{ offsetSec: 0, driftPpm: 0, uncertaintySec: 0, driftUncertaintyPpm: 100 },
      ...{ confidence: 0, question: 'Where?', by: 'found', evidence: [] },
    };
    expect(laidByHand(mark, 4800, 1)).toMatchObject({ offsetSec: 0.1, uncertaintySec: 0.02, by: 'user' });
  });
});
