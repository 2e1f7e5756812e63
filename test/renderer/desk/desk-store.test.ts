import { beforeEach, describe, expect, it } from 'vitest';
import type { Bridge } from '../../../app/shell/contract/bridge.ts';
import type { DeskView } from '../../../app/shell/contract/desk-view.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';
import type { Voice } from '../../../core/session/schema.ts';
import { connectDesk, showSession, useDesk } from '../../../renderer/desk/desk-store.ts';
import { standInBridge } from '../../stand-in/stand-in-bridge.ts';

const inner = standInBridge(new URLSearchParams('voices=2'));
let send: (event: DeskEvent) => void;
const bridge: Bridge = {
  ...inner,
  onEvent(listener) {
    send = listener;
    return () => {};
  },
};
connectDesk(bridge);

let view: DeskView;
beforeEach(async () => {
  view = { ...(await inner.calls.begin({})).desk!, revision: 5 };
  useDesk.setState({ view });
});

const voice: Voice = {
  id: 'voice-9',
  name: 'Descant',
  role: 'free',
  colour: 3,
  trimDb: 0,
  placeDeg: null,
  muted: false,
  chosenTakeId: null,
  passages: null,
};
const added = (revision: number): DeskEvent => ({
  kind: 'edited',
  revision,
  edit: { kind: 'addVoice', voice },
  by: null,
  seq: 0,
  undoLabel: 'add Descant',
  redoLabel: null,
});
const names = (): string[] => useDesk.getState().view!.session.voices.map((one) => one.name);

describe("the page's store", () => {
  it('applies an edit that comes from elsewhere once, even if an answer has brought it before its event', () => {
    send(added(6));
    expect(names()).toEqual(['Soprano recorder', 'Alto recorder', 'Descant']);
    send(added(6));
    send(added(5));
    expect(names()).toHaveLength(3);
    expect(useDesk.getState().view!.undoLabel).toBe('add Descant');
  });

  it('keeps what events know of a session when the answer that opened it comes later', () => {
    send(added(6));
    showSession(view);
    expect(names()).toHaveLength(3);
    showSession({ ...view, folder: '/elsewhere' });
    expect(names()).toHaveLength(2);
  });
});
