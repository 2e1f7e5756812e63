import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { LostWatch } from '../../../renderer/bridge/lost-watch.ts';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

describe('a desk that goes away', () => {
  it('is lost when a broken connection is not back within 6 s, and not before', () => {
    const watch = new LostWatch(6000);
    const lost = vi.fn();
    watch.onLost(lost);
    watch.broken();
    vi.advanceTimersByTime(3000);
    watch.broken();
    vi.advanceTimersByTime(2999);
    expect(lost).not.toHaveBeenCalled();
    vi.advanceTimersByTime(1);
    expect(lost).toHaveBeenCalledTimes(1);
  });

  it('is not lost when the connection is back in time', () => {
    const watch = new LostWatch(6000);
    const lost = vi.fn();
    watch.onLost(lost);
    watch.broken();
    vi.advanceTimersByTime(5999);
    watch.there();
    vi.advanceTimersByTime(60_000);
    expect(lost).not.toHaveBeenCalled();
  });

  it('is told once, to late listeners too', () => {
    const watch = new LostWatch(6000);
    const early = vi.fn();
    const late = vi.fn();
    watch.onLost(early);
    watch.gone();
    watch.gone();
    watch.onLost(late);
    expect([early.mock.calls.length, late.mock.calls.length]).toEqual([1, 1]);
  });
});
