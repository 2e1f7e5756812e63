import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { Presence } from '../../../app/shell/contract/bridge.ts';
import { LookAgain, type LookState } from '../../../renderer/bridge/look-again.ts';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function looking(answers: readonly Presence[]) {
  const states: LookState[] = [];
  const atSec: number[] = [];
  const begunMs = Date.now();
  const onThere = vi.fn();
  const again = new LookAgain({
    look: async () => {
      atSec.push((Date.now() - begunMs) / 1000);
      return answers[atSec.length - 1] ?? 'gone';
    },
    onThere,
    onState: (state) => states.push(state),
  });
  return { again, states, atSec, onThere };
}

describe('looking for a desk that went away', () => {
  it('tries after 1, 2, 4, 8, 15, 30, 60 and 120 s more, then ends and says so', async () => {
    const { states, atSec, onThere } = looking([]);
    await vi.advanceTimersByTimeAsync(600_000);
    expect(atSec).toEqual([1, 3, 7, 15, 30, 60, 120, 240]);
    expect(states.at(-1)).toEqual({ kind: 'ended', looks: 8 });
    expect(onThere).not.toHaveBeenCalled();
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
