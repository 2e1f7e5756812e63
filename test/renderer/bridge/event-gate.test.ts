import { describe, expect, it } from 'vitest';
import type { StartView } from '../../../app/shell/contract/desk-view.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';
import { EventGate } from '../../../renderer/bridge/event-gate.ts';

const edited = (revision: number): DeskEvent => ({
  kind: 'edited',
  revision,
  edit: { kind: 'setTitle', title: `title ${revision}` },
  by: null,
  seq: 0,
  undoLabel: null,
  redoLabel: null,
});

/** As far as the gate looks into it. */
const startAt = (revision: number): StartView => ({ desk: { revision } }) as unknown as StartView;

async function seenWith(events: readonly DeskEvent[], revision: number): Promise<DeskEvent[]> {
  const gate = new EventGate();
  const seen: DeskEvent[] = [];
  gate.onEvent((event) => seen.push(event));
  let answer: (start: StartView) => void = () => undefined;
  const begin = gate.begin(
    () =>
      new Promise((resolve) => {
        answer = resolve;
      }),
  );
  for (const event of events) gate.take(event);
  expect(seen).toEqual([]);
  answer(startAt(revision));
  await begin;
  // Whoever waits for the answer has it before any event.
  expect(seen).toEqual([]);
  await new Promise((resolve) => setTimeout(resolve, 5));
  return seen;
}

describe('the order of events and the answer to begin', () => {
  it('holds events back until the answer has been taken, in their order', async () => {
    expect(await seenWith([edited(8), { kind: 'closed' }], 7)).toEqual([edited(8), { kind: 'closed' }]);
  });

  it('passes over edits that the answer holds already, so that none is applied twice', async () => {
    expect(await seenWith([edited(6), edited(7), edited(8)], 7)).toEqual([edited(8)]);
  });

  it('keeps the first edits of another session, whose count begins anew', async () => {
    const events: DeskEvent[] = [edited(7), { kind: 'closed' }, edited(1)];
    expect(await seenWith(events, 7)).toEqual(events.slice(1));
  });

  it('goes on after a begin that failed', async () => {
    const gate = new EventGate();
    const seen: DeskEvent[] = [];
    gate.onEvent((event) => seen.push(event));
    await expect(gate.begin(() => Promise.reject(new Error('gone')))).rejects.toThrow('gone');
    gate.take(edited(1));
    await new Promise((resolve) => setTimeout(resolve, 5));
    gate.take(edited(2));
    expect(seen).toEqual([edited(1), edited(2)]);
  });
});
