import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { Spaced } from '../../../renderer/playback/spaced.ts';

describe('Spaced', () => {
  beforeEach(() => void vi.useFakeTimers());
  afterEach(() => void vi.useRealTimers());

  it('acts on the first value at once, then only on the last of each 150 ms', () => {
    const acted: number[] = [];
    const spaced = new Spaced<number>(150, (value) => acted.push(value));
    for (let n = 0; n < 10; n++) {
      spaced.ask(n);
      vi.advanceTimersByTime(40);
    }
    expect(acted).toEqual([0, 3, 7]);
    expect(spaced.waiting).toBe(9);
    vi.advanceTimersByTime(500);
    expect(acted).toEqual([0, 3, 7, 9]);
    expect(spaced.waiting).toBeUndefined();
    spaced.ask(10);
    expect(acted.at(-1)).toBe(10);
  });

  it('does not act on what was dropped', () => {
    const acted: number[] = [];
    const spaced = new Spaced<number>(150, (value) => acted.push(value));
    spaced.ask(1);
    spaced.ask(2);
    spaced.drop();
    vi.advanceTimersByTime(1000);
    expect(acted).toEqual([1]);
  });
});
