import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { Presence } from '../../../app/shell/contract/bridge.ts';
import { LookAgain, type LookState } from '../../../renderer/bridge/look-again.ts';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function looking(answers: readonly Presence[], isSeen = () => true) {
  const states: LookState[] = [];
  const atSec: number[] = [];
  const begunMs = Date.now();
  const onThere = vi.fn();
  const again = new LookAgain({
    look: async () => {
      atSec.push((Date.now() - begunMs) / 1000);
      return answers[atSec.length - 1] ?? 'gone';
    },
    isSeen,
    onThere,
    onState: (state) => states.push(state),
  });
  return { again, states, atSec, onThere };
}

describe('looking for a desk that went away', () => {
  it('tries after 1, 2, 4, 8 and 15 s more, then every 30 s for as long as the page is seen', async () => {
    const { states, atSec, onThere } = looking([]);
    await vi.advanceTimersByTimeAsync(3_600_000);
    expect(atSec.slice(0, 8)).toEqual([1, 3, 7, 15, 30, 60, 90, 120]);
    expect([atSec.length, atSec.at(-1)]).toEqual([124, 3600]);
    expect(states.at(-1)!.kind).toBe('waiting');
    expect(onThere).not.toHaveBeenCalled();
  });

  it('rests after 8 tries while nobody sees the page, and goes on at once when somebody does', async () => {
    let isSeen = false;
    const { again, states, atSec, onThere } = looking([...Array<Presence>(9).fill('gone'), 'there'], () => isSeen);
    await vi.advanceTimersByTimeAsync(3_600_000);
    expect(atSec).toHaveLength(8);
    expect(states.at(-1)).toEqual({ kind: 'resting', looks: 8 });
    isSeen = true;
    again.now();
    await vi.advanceTimersByTimeAsync(30_000);
    expect(atSec.slice(8)).toEqual([3600, 3630]);
    expect(onThere).toHaveBeenCalledTimes(1);
  });

  it('rests without another try where the page goes out of sight between two', async () => {
    let isSeen = true;
    const { states, atSec } = looking([], () => isSeen);
    await vi.advanceTimersByTimeAsync(300_000);
    isSeen = false;
    await vi.advanceTimersByTimeAsync(300_000);
    expect([atSec.at(-1), states.at(-1)!.kind]).toEqual([300, 'resting']);
  });

  it('tells once that it is there again, and looks no more', async () => {
    const { states, atSec, onThere } = looking(['gone', 'gone', 'there']);
    await vi.advanceTimersByTimeAsync(600_000);
    expect(atSec).toEqual([1, 3, 7]);
    expect(onThere).toHaveBeenCalledTimes(1);
    expect(states.at(-1)).toEqual({ kind: 'there', looks: 3 });
  });

  it('ends where another desk answers, which does not know the page', async () => {
    const { states, atSec, onThere } = looking(['stranger']);
    await vi.advanceTimersByTimeAsync(600_000);
    expect([atSec, states.at(-1)!.kind, onThere.mock.calls.length]).toEqual([[1], 'stranger', 0]);
  });

  it('looks at once when asked, and goes on with the next pause', async () => {
    const { again, atSec } = looking([]);
    again.now();
    await vi.advanceTimersByTimeAsync(2000);
    expect(atSec).toEqual([0, 2]);
    again.stop();
    again.now();
    await vi.advanceTimersByTimeAsync(600_000);
    expect(atSec).toEqual([0, 2]);
  });
});
