import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import type { BrowserContext, Page } from 'playwright-core';
import { rolldown } from 'rolldown';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type BrowserDoor, startBrowserDoor } from '../../../app/shell/browser/browser-door.ts';
import type { Bridge } from '../../../app/shell/contract/bridge.ts';
import { until } from '../../app/shell/door-suite.ts';
import { SmallHost } from '../../app/shell/small-host.ts';
import { sharedChromium } from '../../chromium.ts';

declare global {
  /** What the test's page puts there. */
  interface Window {
    bridge: Bridge;
    seen: unknown[];
    lost: boolean;
    inline?: boolean;
  }
}

const folder = mkdtempSync(join(tmpdir(), 'partsong-bridge-'));
const pageFolder = join(folder, 'page');
const root = resolve(import.meta.dirname, '../../..');
const contexts: BrowserContext[] = [];
const open: BrowserDoor[] = [];

beforeAll(async () => {
  const source = join(folder, 'page.ts');
  writeFileSync(
    source,
    `import { browserBridge } from ${JSON.stringify(join(root, 'renderer/bridge/browser-bridge.ts'))};
     window.bridge = browserBridge(); window.seen = []; window.lost = false;
     window.bridge.onEvent((event) => window.seen.push(event));
     window.bridge.onLost(() => { window.lost = true; });`,
  );
  const bundle = await rolldown({ input: source, logLevel: 'silent' });
  await bundle.write({ dir: pageFolder, entryFileNames: 'page.js' });
  writeFileSync(
    join(pageFolder, 'index.html'),
    '<!doctype html><title>Bridge</title><script>window.inline = true</script><script type="module" src="/page.js"></script>',
  );
  writeFileSync(join(pageFolder, 'worklet.js'), 'registerProcessor("still", class extends AudioWorkletProcessor {});');
});
afterAll(async () => {
  await Promise.all(contexts.map((context) => context.close()));
  await Promise.all(open.map((door) => door.close()));
  rmSync(folder, { recursive: true, force: true });
});

async function newContext(): Promise<BrowserContext> {
  const context = await (await sharedChromium()).newContext();
  contexts.push(context);
  return context;
}

async function begin(lingerMs: number | null = null) {
  const host = new SmallHost();
  const door = await startBrowserDoor({ host, pageFolder, lingerMs });
  open.push(door);
  const context = await newContext();
  const page = await context.newPage();
  await page.goto(door.url);
  await page.waitForFunction(() => window.bridge !== undefined);
  return { host, door, context, page };
}

const beginCall = (page: Page): Promise<unknown> =>
  page.evaluate(() => window.bridge.calls.begin({}).then(JSON.stringify, (error) => error.fault.code));

describe('the bridge of a page in a browser', () => {
  it('hands in the token, takes it out of the address, and reaches the desk, after a reload too', async () => {
    const { page, door, context } = await begin();
    expect(await beginCall(page)).toContain('"name":"begin"');
    expect(page.url()).toBe(`${door.origin}/`);
    await page.reload();
    expect(await beginCall(page)).toContain('"name":"begin"');
    const [cookie] = await context.cookies();
    expect([cookie?.httpOnly, cookie?.sameSite]).toEqual([true, 'Strict']);
    expect(await page.evaluate(() => document.cookie)).toBe('');
  });

  it('is turned away in another browser, where the token is used up', async () => {
    const { page, door } = await begin();
    await beginCall(page);
    const other = await (await newContext()).newPage();
    await other.goto(door.url);
    expect(await beginCall(other)).toBe('not-admitted');
    await other.goto(`${door.origin}/`);
    expect(await beginCall(other)).toBe('not-admitted');
  });

  it('brings faults as such, and events in order', async () => {
    const { page, host } = await begin();
    await beginCall(page);
    expect(await page.evaluate(() => window.bridge.calls.undo({}).catch((error) => error.fault.message))).toBe(
      'There is nothing to undo.',
    );
    for (let n = 0; n < 50; n++) {
      host.tell({ kind: 'fault', fault: { code: 'x', message: String(n), nextStep: '', file: null } });
    }
    await page.waitForFunction(() => window.seen.length === 50);
    const messages = await page.evaluate(() => window.seen.map((event) => (event as never)['fault']['message']));
    expect(messages).toEqual(Array.from({ length: 50 }, (_, n) => String(n)));
  });

  it('fetches media in ranges, and runs isolated: shared memory, worklet and WebAssembly, but no script from text', async () => {
    const { page } = await begin();
    await beginCall(page);
    const found = await page.evaluate(async () => {
      const response = await fetch(window.bridge.mediaUrl('wave/take-1/before/0'), { headers: { range: 'bytes=5-6' } });
      const context = new OfflineAudioContext(1, 128, 48000);
      await context.audioWorklet.addModule('/worklet.js');
      const runs = (make: () => unknown): boolean => {
        try {
          make();
          return true;
        } catch {
          return false;
        }
      };
      return {
        bytes: [...new Uint8Array(await response.arrayBuffer())],
        isolated: crossOriginIsolated,
        wasm: runs(() => new WebAssembly.Module(Uint8Array.of(0, 97, 115, 109, 1, 0, 0, 0))),
        text: runs(() => new Function('return 1')()),
        inline: window.inline ?? false,
        elsewhere: await fetch('http://127.0.0.1:9/').then(
          () => true,
          () => false,
        ),
      };
    });
    expect(found).toEqual({ bytes: [5, 6], isolated: true, wasm: true, text: false, inline: false, elsewhere: false });
  });

  it('sends files of 6 MiB to the session, telling a fraction that never falls', async () => {
    const { page, host } = await begin();
    host.folder = mkdtempSync(join(folder, 'session-'));
    const { paths, fractions } = await page.evaluate(async () => {
      const fractions: number[] = [];
      const files = [new File([new Uint8Array(6 * 2 ** 20).fill(7)], '1 é.m4a'), new File(['two'], '2.wav')];
      return { paths: await window.bridge.pathsOf(files, (fraction) => fractions.push(fraction)), fractions };
    });
    expect(paths).toEqual([join(host.folder, 'clips/1 é.m4a'), join(host.folder, 'clips/2.wav')]);
    expect(readFileSync(paths[0]!)).toHaveLength(6 * 2 ** 20);
    expect(fractions.at(-1)).toBe(1);
    expect([...fractions].sort((one, other) => one - other)).toEqual(fractions);
  });

  it('rejects with the fault and the file when the desk takes none', async () => {
    const { page } = await begin();
    const fault = await page.evaluate(() =>
      window.bridge.pathsOf([new File(['x'], 'a.wav')], () => undefined).catch((error) => error.fault),
    );
    expect(fault).toMatchObject({ code: 'no-session', file: 'a.wav' });
  });

  it('knows whether the desk is there, gone, or another one; a new address in the same tab begins anew', async () => {
    const first = await begin();
    await beginCall(first.page);
    const presence = (): Promise<string> => first.page.evaluate(() => window.bridge.isThere());
    expect(await presence()).toBe('there');
    await first.door.close();
    expect(await presence()).toBe('gone');
    const port = Number(new URL(first.door.origin).port);
    const second = await startBrowserDoor({ host: new SmallHost(), pageFolder, lingerMs: null, port });
    open.push(second);
    expect(await presence()).toBe('stranger');
    await first.page.goto(second.url);
    await expect.poll(() => beginCall(first.page).catch(() => ''), { timeout: 10_000 }).toContain('"name":"begin"');
    expect(await first.page.evaluate(() => window.lost)).toBe(false);
  });

  it('is lost at once when the desk ends, and the desk ends when its page is closed', async () => {
    const first = await begin();
    await beginCall(first.page);
    await first.door.close();
    await first.page.waitForFunction(() => window.lost, undefined, { timeout: 2000 });
    const second = await begin(1500);
    await beginCall(second.page);
    await second.page.reload();
    await beginCall(second.page);
    await second.page.close();
    let ended = false;
    void second.door.ended.then(() => {
      ended = true;
    });
    await until(() => ended);
  });
});
