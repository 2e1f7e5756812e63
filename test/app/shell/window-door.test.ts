import { mkdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it, vi } from 'vitest';
import type { DoorAnswer } from '../../../app/shell/contract/bridge.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';
import { preloadDoor } from '../../../app/shell/window/preload-door.ts';
import { doorSuite, until } from './door-suite.ts';
import { type ElectronStandIn, type MenuItem, preventable } from './electron-stand-in.ts';
import { renderJob, SmallHost } from './small-host.ts';
import { StandInWindows } from './stand-in-windows.ts';

const windows = new StandInWindows();

doorSuite('the desk through the window, with a stand-in of Electron', async () => {
  const { electron, host } = await windows.begin();
  const door = preloadDoor(electron.preload);
  await door.calls.begin({});
  host.asked.length = 0;
  const ask = (path: string, headers: Readonly<Record<string, string>> = {}, method = 'GET') =>
    electron.respond!(new Request(`partsong://desk${path}`, { headers, method }));
  return {
    host,
    call: async (name, input) => {
      const known = Object.hasOwn(door.calls, name) ? door.calls[name as 'begin'] : undefined;
      if (known !== undefined) return known(input);
      const sender = { sender: { id: 100 }, senderFrame: { url: 'partsong://desk/', parent: null } };
      return (await electron.invoke(`partsong:call:${name}`, input, sender)) as DoorAnswer;
    },
    listen: async () => {
      const seen: DeskEvent[] = [];
      door.onEvent((event) => seen.push(event));
      return seen;
    },
    media: (route, headers, method) => ask(`/media/${route}`, headers, method),
    page: (path) => ask(path),
    end: async () => undefined,
  };
});

describe("the system's own dialogs", () => {
  it('gives the files and folders that were chosen, and null for none', async () => {
    const { electron } = await windows.begin();
    const { calls } = preloadDoor(electron.preload);
    expect(await calls.pickFiles({ title: 'Clips', many: true })).toEqual({ ok: true, value: null });
    expect(await calls.pickFolder({ title: 'Where' })).toEqual({ ok: true, value: null });
    electron.chosen = ['/music/1.m4a', '/music/2.m4a'];
    expect(await calls.pickFiles({ title: 'Clips', many: true })).toEqual({ ok: true, value: electron.chosen });
    expect(await calls.pickFolder({ title: 'Where' })).toEqual({ ok: true, value: '/music/1.m4a' });
    expect(electron.dialogs[2]).toMatchObject({ title: 'Clips', properties: ['openFile', 'multiSelections'] });
  });

  it("reveals the session's own files and no others, through links neither", async () => {
    const { electron, host } = await windows.begin();
    const { calls } = preloadDoor(electron.preload);
    const folder = windows.freshFolder();
    const outside = windows.freshFolder();
    mkdirSync(join(folder, 'renders'));
    writeFileSync(join(folder, 'renders/mix.wav'), '');
    writeFileSync(join(outside, 'private.txt'), '');
    symlinkSync(join(outside, 'private.txt'), join(folder, 'link.txt'));
    const mix = join(folder, 'renders/mix.wav');
    expect(await calls.reveal({ path: mix })).toMatchObject({ ok: false });
    host.folder = folder;
    expect(await calls.reveal({ path: mix })).toEqual({ ok: true, value: null });
    for (const path of [
      join(outside, 'private.txt'),
      join(folder, 'link.txt'),
      join(folder, 'not-there.wav'),
      `${folder}/../${outside.split('/').at(-1)}/private.txt`,
      'renders/mix.wav',
    ]) {
      expect(await calls.reveal({ path }), path).toMatchObject({ ok: false, fault: { file: path } });
    }
    expect(electron.revealed).toEqual([mix]);
  });
});

describe('the window and the session it was asked to open', () => {
  it('opens the session among its arguments, by its folder or its file', async () => {
    const folder = windows.freshFolder();
    writeFileSync(join(folder, 'session.json'), '{}');
    for (const argument of [folder, join(folder, 'session.json')]) {
      const { host } = await windows.begin(undefined, ['--some-switch', argument]);
      expect(host.asked).toEqual([{ name: 'openSession', input: { folder } }]);
    }
    expect((await windows.begin(undefined, [join(folder, 'nothing')])).host.asked).toEqual([]);
  });

  it('ends when it is there already, and the first one comes to the front with the session', async () => {
    const { electron, host } = await windows.begin();
    const folder = windows.freshFolder();
    electron.app.emit('second-instance', {}, ['partsong', 'main.js', folder], '/');
    expect(electron.window.done).toEqual(['show', 'restore', 'focus']);
    await until(() => host.asked.length === 1);
    expect(host.asked).toEqual([{ name: 'openSession', input: { folder } }]);
    const second = await windows.begin((one) => {
      one.isFirst = false;
    });
    expect([second.electron.did.at(-1), second.electron.windows]).toEqual(['quit', []]);
  });

  it('opens what the file manager hands it', async () => {
    const { electron, host } = await windows.begin();
    const folder = windows.freshFolder();
    writeFileSync(join(folder, 'session.json'), '{}');
    const event = preventable();
    electron.app.emit('open-file', event, join(folder, 'session.json'));
    await until(() => host.asked.length === 1);
    expect([event.prevented, host.asked[0]?.input]).toEqual([true, { folder }]);
  });

  it('tells a fault of opening once the page can hear it', async () => {
    const folder = windows.freshFolder();
    const fault = { code: 'session-damaged', message: 'It is damaged.', nextStep: 'Take a copy.', file: folder };
    const call = vi.spyOn(SmallHost.prototype, 'call').mockResolvedValueOnce({ ok: false, fault });
    const { electron } = await windows.begin(undefined, [folder]);
    call.mockRestore();
    const door = preloadDoor(electron.preload);
    const seen: DeskEvent[] = [];
    door.onEvent((event) => seen.push(event));
    await door.calls.begin({});
    expect(seen).toEqual([{ kind: 'fault', fault }]);
  });

  it("puts a session that was opened into the system's list", async () => {
    const { electron, host } = await windows.begin();
    host.folder = '/music/canon';
    host.tell({ kind: 'opened', view: host.view()! });
    expect(electron.recents).toEqual([join('/music/canon', 'session.json')]);
  });

  it('begins a page anew that broke down', async () => {
    const { electron } = await windows.begin();
    electron.window.webContents.emit('render-process-gone', {}, { reason: 'crashed' });
    expect(electron.window.done).toContain('reload');
  });
});

describe('leaving the window', () => {
  const leave = (electron: ElectronStandIn): boolean => {
    const event = preventable();
    electron.window.emit('close', event);
    return event.prevented;
  };

  it('asks nothing when no render is running: the desk is closed, then the program ends', async () => {
    const { electron, host, dataFolder } = await windows.begin();
    expect(leave(electron)).toBe(true);
    await until(() => electron.did.includes('quit'));
    expect([host.closed, electron.asked]).toEqual([true, []]);
    expect(leave(electron)).toBe(false);
    expect(JSON.parse(readFileSync(join(dataFolder, 'window.json'), 'utf8'))).toEqual({
      ...electron.window.bounds,
      isMaximized: false,
    });
  });

  it('waits for a desk that does not close, for 15 s', async () => {
    const { electron, host } = await windows.begin();
    vi.spyOn(host, 'close').mockReturnValue(new Promise(() => undefined));
    vi.useFakeTimers();
    leave(electron);
    await vi.advanceTimersByTimeAsync(14_900);
    expect(electron.did).not.toContain('quit');
    await vi.advanceTimersByTimeAsync(200);
    vi.useRealTimers();
    await until(() => electron.did.includes('quit'));
  });

  it('asks while a render is running, and stays when it is to finish', async () => {
    const { electron, host } = await windows.begin();
    host.folder = '/music/canon';
    host.jobs = [renderJob];
    electron.button = 0;
    leave(electron);
    await until(() => electron.asked.length === 1);
    expect(electron.asked[0]).toMatchObject({
      message: 'A render is running.',
      buttons: ['Let it finish', 'Stop it and quit'],
    });
    await new Promise((resolve) => setTimeout(resolve, 20));
    expect([host.closed, electron.did.includes('quit')]).toEqual([false, false]);
    electron.button = 1;
    electron.app.emit('before-quit', preventable());
    await until(() => electron.did.includes('quit'));
    expect(host.closed).toBe(true);
  });
});

describe('the menu', () => {
  const labels = (items: readonly MenuItem[]): MenuItem[] =>
    items.flatMap((item) => [item, ...labels(item.submenu ?? [])]);

  it('asks the page, and leaves it the keys that text fields need', async () => {
    const { electron } = await windows.begin();
    const door = preloadDoor(electron.preload);
    await door.calls.begin({});
    const commands: string[] = [];
    door.onEvent((event) => {
      if (event.kind === 'menu') commands.push(event.command);
    });
    const items = labels(electron.menu);
    for (const item of items) item.click?.();
    expect(commands.sort()).toEqual(
      ['addClips', 'closeSession', 'help', 'newSession', 'openSession', 'redo', 'render', 'theme', 'undo'].sort(),
    );
    const undo = items.find((item) => item.label === '&Undo');
    expect(undo).toMatchObject({ accelerator: 'CommandOrControl+Z', registerAccelerator: false });
    const keys = items.flatMap((item) => item.accelerator ?? []);
    expect(new Set(keys).size).toBe(keys.length);
    // Ctrl and Alt together write letters on many keyboards.
    expect(keys.filter((one) => one.includes('Alt'))).toEqual([]);
  });
});
