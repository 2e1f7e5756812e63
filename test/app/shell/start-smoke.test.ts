import { type ChildProcess, spawn } from 'node:child_process';
import { chmodSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, afterEach, describe, expect, it } from 'vitest';
import { findRuntime } from '../../../app/shell/window-runtime.ts';
import { BrowserPage } from './browser-page.ts';
import { until } from './door-suite.ts';

const root = resolve(import.meta.dirname, '../../..');
const folder = mkdtempSync(join(tmpdir(), 'partsong-smoke-'));
const env = { ...process.env, PARTSONG_HOME: join(folder, 'home'), PARTSONG_CONFIG: join(folder, 'config') };
const running: ChildProcess[] = [];
afterEach(() => {
  for (const child of running.splice(0)) child.kill('SIGKILL');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** `npm start -- ...`; what it writes, and its exit code once it has ended. */
function start(args: readonly string[], more: NodeJS.ProcessEnv = {}) {
  const child = spawn(process.execPath, [join(root, 'app/shell/start.mjs'), ...args], { env: { ...env, ...more } });
  running.push(child);
  const seen: { text: string; code: number | null; child: ChildProcess } = { text: '', code: null, child };
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (piece) => {
      seen.text += piece;
    });
  }
  child.on('exit', (code) => {
    seen.code = code;
  });
  return seen;
}

/** Waits for the address; a start that ends without one fails with what it wrote. */
async function addressOf(seen: ReturnType<typeof start>): Promise<string> {
  await until(() => addressIn(seen.text) !== undefined || seen.code !== null, 30_000);
  const address = addressIn(seen.text);
  if (address === undefined) throw new Error(`it ended with ${seen.code}: ${seen.text}`);
  return address;
}

const addressIn = (text: string): string | undefined => /http:\/\/127\.0\.0\.1:\d+\/#[\w-]{43}/.exec(text)?.[0];

describe('npm start', () => {
  it('says why there is no window, serves the real desk to a browser, and ends with exit code 0 on Ctrl-C', async () => {
    const seen = start(['--no-open', '--no-fetch'], {
      DISPLAY: '',
      WAYLAND_DISPLAY: '',
      ELECTRON_OVERRIDE_DIST_PATH: folder,
    });
    const seenAddress = await addressOf(seen);
    expect(seen.text).toMatch(
      /^(There is no screen here to show a window on|The window's runtime is not installed): the desk opens in the browser instead\.\n/,
    );
    const page = await BrowserPage.open(seenAddress);
    expect(await page.call('begin', {})).toMatchObject({
      ok: true,
      value: { door: 'browser', desk: null, home: env.PARTSONG_HOME },
    });
    const html = await (await page.fetch('/')).text();
    const script = /src="\.(\/assets\/[^"]+\.js)"/.exec(html)?.[1];
    expect((await page.fetch(script!)).status).toBe(200);
    expect(html).not.toMatch(/<script(?![^>]*\bsrc=)|<style|\sstyle=/);
    seen.child.kill('SIGINT');
    await until(() => seen.code !== null);
    expect(seen.code).toBe(0);
    expect(seen.text).toContain('Partsong has ended: it was asked to (SIGINT). Your session is saved.');
  });

  it('opens a session that is named, and says so when it is none', async () => {
    const wrong = start(['--browser', '--no-open', join(folder, 'nothing')]);
    await until(() => wrong.code !== null, 30_000);
    expect([wrong.code, wrong.text]).toEqual([
      2,
      `${join(folder, 'nothing')} is no folder and no session.json. Give the folder of a session.\n`,
    ]);
    const first = start(['--browser', '--no-open']);
    const firstAddress = await addressOf(first);
    const page = await BrowserPage.open(firstAddress);
    const made = await page.call('newSession', { title: 'Round', folder: join(folder, 'round') });
    expect(made).toMatchObject({ ok: true, value: { folder: join(folder, 'round') } });
    first.child.kill('SIGTERM');
    await until(() => first.code !== null);
    const again = start(['--browser', '--no-open', join(folder, 'round')]);
    const againAddress = await addressOf(again);
    const opened = await (await BrowserPage.open(againAddress)).call('begin', {});
    expect(opened).toMatchObject({ ok: true, value: { desk: { session: { title: 'Round' } } } });
  });

  it('refuses a port that is taken, with exit code 2 and a sentence', async () => {
    const first = start(['--browser', '--no-open']);
    const firstAddress = await addressOf(first);
    const { port } = new URL(firstAddress);
    const second = start(['--browser', '--no-open', '--port', port]);
    await until(() => second.code !== null, 30_000);
    expect([second.code, second.text]).toEqual([
      2,
      `Port ${port} is taken or not allowed. Leave --port out, or give another.\n`,
    ]);
  });
});

describe('npm start with a runtime for the window', () => {
  /** A runtime of a few lines: it writes what it was given, then does as told. */
  const runtimeThat = (name: string, does: string): NodeJS.ProcessEnv => {
    const dist = join(folder, name);
    mkdirSync(dist);
    writeFileSync(join(dist, 'electron'), `#!/bin/sh\necho "given: $*, as node: $ELECTRON_RUN_AS_NODE"\n${does}\n`);
    chmodSync(join(dist, 'electron'), 0o755);
    return { DISPLAY: ':99', ELECTRON_OVERRIDE_DIST_PATH: dist, ELECTRON_RUN_AS_NODE: '1' };
  };

  it('hands it the program and the session, waits, and ends as it ended', async () => {
    const seen = start(['--no-open', folder], runtimeThat('well', 'exit 0'));
    await until(() => seen.code !== null, 30_000);
    expect([seen.code, seen.text]).toEqual([0, `given: ${join(root, 'out/main/main.js')} ${folder}, as node: \n`]);
  });

  it('serves the browser instead when the window fails at once, saying so', async () => {
    const seen = start(['--no-open'], runtimeThat('ill', 'exit 7'));
    await addressOf(seen);
    expect(seen.text).toContain('The window could not be opened: the desk opens in the browser instead.\n');
  });

  it('does not go on to the browser when the window is ended by Ctrl-C', async () => {
    const seen = start(['--no-open'], runtimeThat('long', 'exec sleep 30'));
    await until(() => seen.text.includes('given:'), 30_000);
    seen.child.kill('SIGINT');
    await until(() => seen.code !== null);
    expect(seen.text).not.toContain('browser');
  });
});

describe('the window itself', () => {
  const places = {
    packageFolder: join(root, 'node_modules/electron'),
    failedFile: join(folder, 'failed'),
    env: process.env,
    platform: process.platform,
  };
  const runtime = findRuntime(places);

  it('shows the page where its runtime and a screen are there; else start says which of them is not', async () => {
    if ('why' in runtime) {
      const seen = start(['--no-open', '--no-fetch']);
      await addressOf(seen);
      expect(seen.text).toContain(`${runtime.why}: the desk opens in the browser instead.`);
      return;
    }
    const port = await freePort();
    // Chromium refuses its sandbox to root.
    const asRoot = process.getuid?.() === 0 ? ['--no-sandbox'] : [];
    const args = [`--remote-debugging-port=${port}`, ...asRoot, join(root, 'out/main/main.js')];
    running.push(spawn(runtime.program, args, { env, stdio: 'ignore' }));
    let pages: { url: string; title: string }[] = [];
    for (let n = 0; n < 300 && !pages.some((page) => page.title === 'Partsong'); n++) {
      pages = await fetch(`http://127.0.0.1:${port}/json`).then(
        (response) => response.json(),
        () => [],
      );
      await new Promise((wait) => setTimeout(wait, 100));
    }
    expect(pages).toContainEqual(expect.objectContaining({ url: 'partsong://desk/', title: 'Partsong' }));
  });
});

function freePort(): Promise<number> {
  return new Promise((settle) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address() as AddressInfo;
      server.close(() => settle(port));
    });
  });
}
