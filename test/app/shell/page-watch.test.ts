import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { PageWatch } from '../../../app/shell/browser/page-watch.ts';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function watched(mustStay = () => false) {
  const onGone = vi.fn();
  return { onGone, watch: new PageWatch(5000, mustStay, onGone) };
}

describe('the desk without a page', () => {
  it('waits without limit for the first page, then ends about 5 s after the last one went', () => {
    const { watch, onGone } = watched();
    vi.advanceTimersByTime(3_600_000);
    watch.set(1);
    watch.set(0);
    vi.advanceTimersByTime(5000);
    expect(onGone).not.toHaveBeenCalled();
    vi.advanceTimersByTime(300);
    expect(onGone).toHaveBeenCalledOnce();
  });

  it('hears a page that asked while the desk was busy for longer than 5 s before it ends', () => {
    const { watch, onGone } = watched();
    watch.set(0);
    // The timer comes first after the busy stretch, the waiting request right behind it.
    vi.advanceTimersByTime(5000);
    watch.touch();
    vi.advanceTimersByTime(4000);
    watch.set(1);
    vi.advanceTimersByTime(60_000);
    expect(onGone).not.toHaveBeenCalled();
  });

  it('stays while a render runs', () => {
    let isRendering = true;
    const { watch, onGone } = watched(() => isRendering);
    watch.set(0);
    vi.advanceTimersByTime(60_000);
    expect(onGone).not.toHaveBeenCalled();
    isRendering = false;
    vi.advanceTimersByTime(5300);
    expect(onGone).toHaveBeenCalledOnce();
  });

  it('waits 60 s for a page that was dropped because it did not read', () => {
    const { watch, onGone } = watched();
    watch.set(0, 60_000);
    vi.advanceTimersByTime(30_000);
    watch.touch();
    vi.advanceTimersByTime(59_000);
    expect(onGone).not.toHaveBeenCalled();
  });
});
