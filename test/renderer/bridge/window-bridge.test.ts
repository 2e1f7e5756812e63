import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { DoorAnswer, WindowDoor } from '../../../app/shell/contract/bridge.ts';
import { callNames } from '../../../app/shell/contract/calls.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';
import { windowBridge } from '../../../renderer/bridge/window-bridge.ts';

beforeEach(() => vi.stubGlobal('location', { href: 'partsong://desk/#top' }));
afterEach(() => vi.unstubAllGlobals());

/** A door that answers every call with its name; `undo` is refused. */
function door() {
  let listener: (event: DeskEvent) => void = () => undefined;
  const answer = async (name: string): Promise<DoorAnswer> =>
    name === 'undo'
      ? { ok: false, fault: { code: 'bad-option', message: 'Nothing to undo.', nextStep: 'Go on.', file: null } }
      : { ok: true, value: { name } };
  const calls = Object.fromEntries(callNames.map((name) => [name, () => answer(name)]));
  const built: WindowDoor = {
    calls: calls as unknown as WindowDoor['calls'],
    onEvent(taking) {
      listener = taking;
      return () => undefined;
    },
    pathOf: (file) => (file.name === 'nowhere.png' ? '' : `/music/${file.name}`),
  };
  return { built, tell: (event: DeskEvent) => listener(event) };
}

describe('the bridge of a page in the window', () => {
  it('reaches every call, and rejects a refused one with its fault', async () => {
    const bridge = windowBridge(door().built);
    for (const name of callNames.filter((one) => one !== 'undo')) {
      expect(await bridge.calls[name]({} as never)).toEqual({ name });
    }
    await expect(bridge.calls.undo({})).rejects.toMatchObject({ fault: { message: 'Nothing to undo.' } });
  });

  it('tells events', () => {
    const { built, tell } = door();
    const seen: DeskEvent[] = [];
    windowBridge(built).onEvent((event) => seen.push(event));
    tell({ kind: 'closed' });
    expect(seen).toEqual([{ kind: 'closed' }]);
  });

  it('names media under the own address of the window, and files by their own paths', async () => {
    const bridge = windowBridge(door().built);
    expect(bridge.mediaUrl('wave/take-1/before/0')).toMatch(/^partsong:\/\/desk\/media\/wave\/take-1\/before\/0$/);
    const fractions: number[] = [];
    const files = [new File([], '1.m4a'), new File([], '2.m4a')];
    expect(await bridge.pathsOf(files, (fraction) => fractions.push(fraction))).toEqual([
      '/music/1.m4a',
      '/music/2.m4a',
    ]);
    expect(fractions).toEqual([1]);
  });

  it('says of what is no file of the disk that it is none', async () => {
    const files = [new File([], 'nowhere.png')];
    await expect(windowBridge(door().built).pathsOf(files, () => undefined)).rejects.toMatchObject({
      fault: { code: 'file-missing', file: 'nowhere.png' },
    });
  });
});
