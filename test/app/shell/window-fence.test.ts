import { readdirSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { describe, expect, it, vi } from 'vitest';
import { callNames } from '../../../app/shell/contract/calls.ts';
import { channelOf } from '../../../app/shell/window/channels.ts';
import { preloadDoor } from '../../../app/shell/window/preload-door.ts';
import { preventable } from './electron-stand-in.ts';
import { StandInWindows } from './stand-in-windows.ts';

const windows = new StandInWindows();

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
    const { electron } = await windows.begin();
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
    const { electron } = await windows.begin();
    const { webContents } = electron.window;
    for (const kind of ['will-navigate', 'will-frame-navigate', 'will-redirect', 'will-attach-webview']) {
      const event = preventable({ url, isMainFrame: true });
      webContents.emit(kind, event);
      expect(event.prevented, kind).toBe(true);
    }
    expect(webContents.openHandler?.({ url })).toEqual({ action: 'deny' });
  });

  it('lets the page be loaded again', async () => {
    const { electron } = await windows.begin();
    const event = preventable({ url: 'partsong://desk/', isMainFrame: true });
    electron.window.webContents.emit('will-navigate', event);
    expect(event.prevented).toBe(false);
  });

  it('refuses every permission but the choice of the sound output, and that to its own page alone', async () => {
    const { electron } = await windows.begin();
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
    const { electron } = await windows.begin();
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
    const { electron, host } = await windows.begin();
    for (const name of callNames) {
      const answer = await electron.invoke(channelOf(name), {}, { sender: { id }, senderFrame });
      expect(answer).toMatchObject({ ok: false, fault: { code: 'not-admitted' } });
    }
    expect(host.asked).toEqual([]);
  });

  it('gives the page nothing but its calls, its events and the paths of files', async () => {
    const { electron } = await windows.begin();
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
