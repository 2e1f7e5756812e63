import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import type { DoorAnswer } from '../../../app/shell/contract/bridge.ts';
import { callNames } from '../../../app/shell/contract/calls.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';
import { channelOf } from '../../../app/shell/window/channels.ts';
import { runWindow } from '../../../app/shell/window/desk-window.ts';
import { preloadDoor } from '../../../app/shell/window/preload-door.ts';
import { mendedPlace } from '../../../app/shell/window/window-place.ts';
import { smallPage } from './browser-page.ts';
import { doorSuite, until } from './door-suite.ts';
import { ElectronStandIn, type MenuItem, preventable } from './electron-stand-in.ts';
import { renderJob, SmallHost } from './small-host.ts';

const pageFolder = smallPage();
const folders = [pageFolder];
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'partsong-window-'));
  folders.push(folder);
  return folder;
}

async function begin(prepare: (electron: ElectronStandIn) => void = () => undefined, args: readonly string[] = []) {
  const userData = freshFolder();
  const electron = new ElectronStandIn();
  prepare(electron);
  const host = new SmallHost();
  await runWindow(electron.system, {
    makeHost: () => host,
    pageFolder,
    preloadFile: '/built/preload.cjs',
    dataFolder: userData,
    args,
    workingFolder: userData,
    platform: 'linux',
  });
  return { electron, host, userData };
}

doorSuite('the desk through the window, with a stand-in of Electron', async () => {
  const { electron, host } = await begin();
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

describe('the fence around the window', () => {
  it("lets two files alone take hold of Electron's modules", () => {
    const folder = resolve(import.meta.dirname, '../../../app');
    const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((name) => name.endsWith('.ts'));
    const taking = files.filter((name) =>
      /^import (?!type )[^;]*from 'electron'/m.test(readFileSync(join(folder, name), 'utf8')),
    );
    expect(taking.sort()).toEqual(['shell/window/main.ts', 'shell/window/preload.ts']);
  });

  it('shows the page sandboxed and apart from the program, under a scheme of its own', async () => {
    const { electron } = await begin();
    expect(electron.window.address).toBe('partsong://desk/');
    expect(electron.did).toContain('sandbox');
    expect(electron.window.options['webPreferences']).toMatchObject({
      sandbox: true,
      contextIsolation: true,
      nodeIntegration: false,
      webSecurity: true,
      webviewTag: false,
      preload: '/built/preload.cjs',
    });
    expect(electron.schemes).toEqual([
      { scheme: 'partsong', privileges: { standard: true, secure: true, supportFetchAPI: true, stream: true } },
    ]);
  });

  it.each([
    'https://evil.example/',
    'file:///etc/passwd',
    'partsong://other/',
    'partsong://desk/assets/page.js',
    'data:text/html,x',
  ])('goes nowhere else: %s', async (url) => {
    const { electron } = await begin();
    const { webContents } = electron.window;
    for (const kind of ['will-navigate', 'will-frame-navigate', 'will-redirect', 'will-attach-webview']) {
      const event = preventable({ url, isMainFrame: true });
      webContents.emit(kind, event);
      expect(event.prevented, kind).toBe(true);
    }
    expect(webContents.openHandler?.({ url })).toEqual({ action: 'deny' });
  });

  it('lets the page be loaded again', async () => {
    const { electron } = await begin();
    const event = preventable({ url: 'partsong://desk/', isMainFrame: true });
    electron.window.webContents.emit('will-navigate', event);
    expect(event.prevented).toBe(false);
  });

  it('refuses every permission but the choice of the sound output, and that to its own page alone', async () => {
    const { electron } = await begin();
    const granted = (permission: string, requestingUrl: string): unknown => {
      const answer = vi.fn();
      (electron.decisions.get('request') as (...values: unknown[]) => void)({}, permission, answer, { requestingUrl });
      return answer.mock.calls[0]?.[0];
    };
    for (const permission of ['media', 'geolocation', 'notifications', 'openExternal', 'display-capture', 'midi']) {
      expect(granted(permission, 'partsong://desk/'), permission).toBe(false);
    }
    expect(granted('speaker-selection', 'partsong://desk/')).toBe(true);
    expect(granted('speaker-selection', 'https://evil.example/')).toBe(false);
    const check = electron.decisions.get('check') as (...values: unknown[]) => boolean;
    expect(check({}, 'media', 'partsong://desk/', { mediaType: 'audio' })).toBe(true);
    expect(check({}, 'media', 'partsong://desk/', { mediaType: 'video' })).toBe(false);
    expect(check({}, 'media', 'https://evil.example', { mediaType: 'audio' })).toBe(false);
    expect(check({}, 'geolocation', 'partsong://desk/', {})).toBe(false);
    expect((electron.decisions.get('device') as () => boolean)()).toBe(false);
  });

  it('fetches nothing from anywhere else, and downloads nothing', async () => {
    const { electron } = await begin();
    const isCancelled = (url: string): boolean => {
      const answer = vi.fn();
      (electron.decisions.get('fetch') as (...values: unknown[]) => void)({ url }, answer);
      return answer.mock.calls[0]?.[0].cancel;
    };
    for (const url of ['https://evil.example/', 'http://127.0.0.1/', 'file:///etc/passwd', 'ws://evil.example']) {
      expect(isCancelled(url), url).toBe(true);
    }
    for (const url of ['partsong://desk/', 'partsong://desk/media/clip/take-1', 'blob:partsong://desk/1']) {
      expect(isCancelled(url), url).toBe(false);
    }
    const download = preventable();
    electron.session.emit('will-download', download);
    expect(download.prevented).toBe(true);
  });

  it.each([
    ['a frame that has gone', null, 100],
    ['a frame within the page', { url: 'partsong://desk/', parent: {} }, 100],
    ['another address', { url: 'https://evil.example/', parent: null }, 100],
    ['an address that begins alike', { url: 'partsong://desk.evil/', parent: null }, 100],
    ['another window', { url: 'partsong://desk/', parent: null }, 7],
  ])('turns away each call of %s', async (_, senderFrame, id) => {
    const { electron, host } = await begin();
    for (const name of callNames) {
      const answer = await electron.invoke(channelOf(name), {}, { sender: { id }, senderFrame });
      expect(answer).toMatchObject({ ok: false, fault: { code: 'not-admitted' } });
    }
    expect(host.asked).toEqual([]);
  });

  it('gives the page nothing but its calls, its events and the paths of files', async () => {
    const { electron } = await begin();
    const door = preloadDoor(electron.preload);
    expect(Object.keys(door).sort()).toEqual(['calls', 'onEvent', 'pathOf']);
    expect(Object.keys(door.calls)).toEqual(callNames);
    const seen: unknown[][] = [];
    const stop = door.onEvent((...values) => seen.push(values));
    electron.window.webContents.send('partsong:event', { kind: 'closed' });
    stop();
    electron.window.webContents.send('partsong:event', { kind: 'closed' });
    expect(seen).toEqual([[{ kind: 'closed' }]]);
    expect(door.pathOf(new File([], 'a.m4a'))).toBe('/dropped/a.m4a');
  });
});

describe("the system's own dialogs", () => {
  it('gives the files and folders that were chosen, and null for none', async () => {
    const { electron } = await begin();
    const { calls } = preloadDoor(electron.preload);
    expect(await calls.pickFiles({ title: 'Clips', many: true })).toEqual({ ok: true, value: null });
    expect(await calls.pickFolder({ title: 'Where' })).toEqual({ ok: true, value: null });
    electron.chosen = ['/music/1.m4a', '/music/2.m4a'];
    expect(await calls.pickFiles({ title: 'Clips', many: true })).toEqual({ ok: true, value: electron.chosen });
    expect(await calls.pickFolder({ title: 'Where' })).toEqual({ ok: true, value: '/music/1.m4a' });
    expect(electron.dialogs[2]).toMatchObject({ title: 'Clips', properties: ['openFile', 'multiSelections'] });
  });

  it("reveals the session's own files and no others, through links neither", async () => {
    const { electron, host } = await begin();
    const { calls } = preloadDoor(electron.preload);
    const folder = freshFolder();
    const outside = freshFolder();
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
    const folder = freshFolder();
    writeFileSync(join(folder, 'session.json'), '{}');
    for (const argument of [folder, join(folder, 'session.json')]) {
      const { host } = await begin(undefined, ['--some-switch', argument]);
      expect(host.asked).toEqual([{ name: 'openSession', input: { folder } }]);
    }
    expect((await begin(undefined, [join(folder, 'nothing')])).host.asked).toEqual([]);
  });

  it('ends when it is there already, and the first one comes to the front with the session', async () => {
    const { electron, host } = await begin();
    const folder = freshFolder();
    electron.app.emit('second-instance', {}, ['partsong', 'main.js', folder], '/');
    expect(electron.window.done).toEqual(['show', 'restore', 'focus']);
    await until(() => host.asked.length === 1);
    expect(host.asked).toEqual([{ name: 'openSession', input: { folder } }]);
    const second = await begin((one) => {
      one.isFirst = false;
    });
    expect([second.electron.did.at(-1), second.electron.windows]).toEqual(['quit', []]);
  });

  it('opens what the file manager hands it', async () => {
    const { electron, host } = await begin();
    const folder = freshFolder();
    writeFileSync(join(folder, 'session.json'), '{}');
    const event = preventable();
    electron.app.emit('open-file', event, join(folder, 'session.json'));
    await until(() => host.asked.length === 1);
    expect([event.prevented, host.asked[0]?.input]).toEqual([true, { folder }]);
  });

  it('tells a fault of opening once the page can hear it', async () => {
    const folder = freshFolder();
    const fault = { code: 'session-damaged', message: 'It is damaged.', nextStep: 'Take a copy.', file: folder };
    const call = vi.spyOn(SmallHost.prototype, 'call').mockResolvedValueOnce({ ok: false, fault });
    const { electron } = await begin(undefined, [folder]);
    call.mockRestore();
    const door = preloadDoor(electron.preload);
    const seen: DeskEvent[] = [];
    door.onEvent((event) => seen.push(event));
    await door.calls.begin({});
    expect(seen).toEqual([{ kind: 'fault', fault }]);
  });

  it("puts a session that was opened into the system's list", async () => {
    const { electron, host } = await begin();
    host.folder = '/music/canon';
    host.tell({ kind: 'opened', view: host.view()! });
    expect(electron.recents).toEqual([join('/music/canon', 'session.json')]);
  });

  it('begins a page anew that broke down', async () => {
    const { electron } = await begin();
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
    const { electron, host, userData } = await begin();
    expect(leave(electron)).toBe(true);
    await until(() => electron.did.includes('quit'));
    expect([host.closed, electron.asked]).toEqual([true, []]);
    expect(leave(electron)).toBe(false);
    expect(JSON.parse(readFileSync(join(userData, 'window.json'), 'utf8'))).toEqual({
      ...electron.window.bounds,
      isMaximized: false,
    });
  });

  it('waits for a desk that does not close, for 15 s', async () => {
    const { electron, host } = await begin();
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
    const { electron, host } = await begin();
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
    const { electron } = await begin();
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

describe('the place of the window', () => {
  const screens = [
    { x: 0, y: 25, width: 1920, height: 1055 },
    { x: 1920, y: 0, width: 2560, height: 1400 },
  ];
  const kept = { x: 2000, y: 100, width: 1600, height: 900, isMaximized: false };

  it('is where it was, on whichever screen', () => {
    expect(mendedPlace(kept, screens)).toEqual(kept);
    expect(mendedPlace({ ...kept, x: -1000 }, screens)).toEqual({ ...kept, x: -1000 });
  });

  it('comes back to the middle of the main screen, as large as fits, when its screen is gone', () => {
    expect(mendedPlace(kept, screens.slice(0, 1))).toEqual({ ...kept, x: 160, y: 103 });
    const wide = { ...kept, width: 2500, height: 1390 };
    expect(mendedPlace(wide, screens.slice(0, 1))).toEqual({ ...wide, x: 0, y: 25, width: 1920, height: 1055 });
  });

  it('can be taken by its head: not above the screen, nor with fewer than 120 px on it', () => {
    expect(mendedPlace({ ...kept, y: -200 }, screens).y).toBeGreaterThan(0);
    expect(mendedPlace({ ...kept, x: 4400 }, screens).x).toBe(160);
  });

  it('is never smaller than 1024 x 640, and 1440 x 900 in the middle the first time', () => {
    expect(mendedPlace({ ...kept, width: 300, height: 200 }, screens)).toMatchObject({ width: 1024, height: 640 });
    expect(mendedPlace(undefined, screens)).toEqual({ x: 240, y: 103, width: 1440, height: 900, isMaximized: false });
  });
});
