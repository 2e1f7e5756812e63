import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { openAddress, openerOf } from '../../../app/shell/browser/open-address.ts';
import { plainCallNames } from '../../../app/shell/contract/call-names.ts';
import { callNames } from '../../../app/shell/contract/calls.ts';
import { sessionAmong, sessionFolderOf } from '../../../app/shell/opening.ts';
import { hostPlaces, VERSION } from '../../../app/shell/places.ts';
import { readStartOptions } from '../../../app/shell/start-options.ts';
import { findRuntime, getRuntime, type RuntimePlaces } from '../../../app/shell/window-runtime.ts';

const root = resolve(import.meta.dirname, '../../..');
const folder = mkdtempSync(join(tmpdir(), 'partsong-start-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('the arguments of npm start', () => {
  it('are a session, --browser, --no-open, --port and --no-fetch', () => {
    expect(readStartOptions([])).toEqual({ session: null, browser: false, open: true, port: 0, fetch: true });
    expect(readStartOptions(['canon', '--browser', '--no-open', '--port', '4000', '--no-fetch'])).toEqual({
      session: 'canon',
      browser: true,
      open: false,
      port: 4000,
      fetch: false,
    });
  });

  it.each([[['--port', '80']], [['--port', 'x']], [['--port', '65536']], [['--nothing']], [['a', 'b']]])(
    'refuse %j with a sentence',
    (args) => {
      const written = vi.spyOn(process.stderr, 'write').mockImplementation(() => true);
      expect(() => readStartOptions(args)).toThrow();
      expect(written).toHaveBeenCalled();
      written.mockRestore();
    },
  );

  it('name a session by its folder or its session.json, and nothing else', () => {
    const session = join(folder, 'canon');
    mkdirSync(session);
    for (const name of ['session.json', 'notes.txt']) writeFileSync(join(session, name), '');
    expect(sessionFolderOf('canon', folder)).toBe(session);
    expect(sessionFolderOf('canon/session.json', folder)).toBe(session);
    expect(sessionFolderOf('canon/notes.txt', folder)).toBeUndefined();
    expect(sessionFolderOf('nothing', folder)).toBeUndefined();
    expect(sessionAmong(['/usr/bin/electron', 'out/main/main.js', '--switch', 'canon'], folder)).toBe(session);
  });
});

describe("the window's runtime", () => {
  const places = (name: string, env: NodeJS.ProcessEnv = { DISPLAY: ':0' }): RuntimePlaces => ({
    packageFolder: join(folder, name),
    failedFile: join(folder, `${name}-failed`),
    env,
    platform: 'linux',
  });
  /** A package of which `install.js` does as told. */
  const makePackage = (name: string, install: string): RuntimePlaces => {
    mkdirSync(join(folder, name), { recursive: true });
    writeFileSync(join(folder, name, 'package.json'), '{"type":"commonjs"}');
    writeFileSync(join(folder, name, 'install.js'), install);
    return places(name);
  };

  it('is not looked for where there is no screen', () => {
    expect(findRuntime(places('none', {}))).toEqual({ why: 'There is no screen here to show a window on' });
  });

  it('is fetched once, saying so, where it is not there', async () => {
    const install = `const fs = require('fs'); fs.mkdirSync(__dirname + '/dist'); fs.writeFileSync(__dirname + '/dist/electron', '');
      fs.writeFileSync(__dirname + '/path.txt', 'electron');`;
    const there = makePackage('there', install);
    const said: string[] = [];
    const expected = { program: join(folder, 'there/dist/electron') };
    expect(await getRuntime(there, (sentence) => said.push(sentence))).toEqual(expected);
    expect(await getRuntime(there, (sentence) => said.push(sentence))).toEqual(expected);
    expect(said).toEqual(["Fetching the window's runtime, some 100 MB, once."]);
  });

  it('is not waited for again within a day after it could not be fetched', async () => {
    const away = makePackage('away', 'process.exit(1);');
    const said: string[] = [];
    const say = (sentence: string): unknown => said.push(sentence);
    expect(await getRuntime(away, say)).toEqual({ why: "The window's runtime could not be fetched" });
    expect(await getRuntime(away, say)).toEqual({
      why: "The window's runtime is not installed, and could not be fetched lately",
    });
    expect(said).toHaveLength(1);
  });

  it('is taken from where ELECTRON_OVERRIDE_DIST_PATH says', () => {
    const dist = join(folder, 'dist');
    mkdirSync(dist);
    writeFileSync(join(dist, 'electron'), '');
    const env = { DISPLAY: ':0', ELECTRON_OVERRIDE_DIST_PATH: dist };
    expect(findRuntime(places('none', env))).toEqual({ program: join(dist, 'electron') });
  });
});

describe("the system's browser", () => {
  it('is opened by the way each system has', () => {
    expect(openerOf('linux', 'http://x/')).toEqual(['xdg-open', 'http://x/']);
    expect(openerOf('darwin', 'http://x/')).toEqual(['open', 'http://x/']);
    expect(openerOf('win32', 'http://x/')).toEqual(['rundll32', 'url.dll,FileProtocolHandler', 'http://x/']);
  });

  it('is told as not opened where there is no such way', async () => {
    vi.stubEnv('PATH', folder);
    try {
      expect(await openAddress('http://127.0.0.1:9/', 'linux')).toBe(false);
    } finally {
      vi.unstubAllEnvs();
    }
  });
});

describe('what is written down twice', () => {
  it("the version is the package's", () => {
    expect(JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')).version).toBe(VERSION);
  });

  it('the names of the calls are those of the contract, in their order', () => {
    expect(plainCallNames).toEqual(callNames);
  });

  it('new sessions go to PARTSONG_HOME where it is set', () => {
    expect(hostPlaces({ PARTSONG_HOME: '/a', PARTSONG_CONFIG: '/b' })).toEqual({
      version: VERSION,
      homeFolder: '/a',
      configFolder: '/b',
    });
  });
});
