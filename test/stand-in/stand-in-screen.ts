import { existsSync, mkdirSync, renameSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { build, type PreviewServer, preview } from 'vite';
import { afterAll, beforeAll, inject } from 'vitest';
import { startChromium } from '../chromium.ts';

const configFile = join(import.meta.dirname, 'vite.config.ts');
/** Building the page and starting a browser, on a busy machine, ms. */
const BEGIN_MS = 120_000;

/** The page over the invented desk, served, and a browser to see it in. */
export interface StandInScreen {
  /** Ends in a slash; the invented desk's query follows it. */
  readonly address: string;
  readonly browser: Browser;
}

/** Serves the page to the tests of one file, from before the first until after the last. begun: what else comes before them. */
export function standInScreen(begun: (screen: StandInScreen) => Promise<void> | void): void {
  let server: PreviewServer | undefined;
  let browser: Browser | undefined;
  beforeAll(async () => {
    const outDir = await builtPage();
    server = await preview({ configFile, build: { outDir }, preview: { port: 0, host: '127.0.0.1' } });
    const address = `http://127.0.0.1:${(server.httpServer.address() as AddressInfo).port}/`;
    browser = await startChromium();
    await begun({ address, browser });
  }, BEGIN_MS);
  afterAll(async () => {
    await browser?.close();
    await server?.close();
  });
}

/** Where the built page lies. The first of a run that asks builds it; who asks meanwhile waits. */
async function builtPage(): Promise<string> {
  const folder = inject('standInFolder');
  const page = join(folder, 'page');
  const failed = join(folder, 'failed');
  if (!isFirst(join(folder, 'begun'))) {
    while (!existsSync(page)) {
      if (existsSync(failed)) throw new Error('the page could not be built: see the test that tried');
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    return page;
  }
  try {
    const outDir = `${page}.part`;
    await build({ configFile, logLevel: 'warn', build: { outDir, emptyOutDir: true, minify: false } });
    renameSync(outDir, page);
    return page;
  } catch (error) {
    mkdirSync(failed);
    throw error;
  }
}

/** A folder can be made by one alone. */
function isFirst(mark: string): boolean {
  try {
    mkdirSync(mark);
    return true;
  } catch {
    return false;
  }
}
