import { existsSync, mkdirSync, renameSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import type { BrowserContext, Page } from 'playwright-core';
import { build, type PreviewServer, preview } from 'vite';
import { afterAll, beforeAll, inject } from 'vitest';
import { sharedChromium } from '../chromium.ts';

const configFile = join(import.meta.dirname, 'vite.config.ts');
/** Building the page and starting a browser, on a busy machine, ms. */
const BEGIN_MS = 120_000;

/** The page over the invented desk, served, and a way to see it. */
export interface StandInScreen {
  /** Ends in a slash; the invented desk's query follows it. */
  readonly address: string;
  /**
   * Gives the one page of the file, opened anew with nothing kept: a page of its own for each test took four times the
   * processor time, because its scripts are compiled again.
   */
  open(query: string, look?: Look): Promise<Page>;
}

export interface Look {
  /** 1280 x 800 if absent. */
  readonly viewport?: { readonly width: number; readonly height: number };
  /** `light` if absent. */
  readonly colorScheme?: 'light' | 'dark';
  /** `no-preference` if absent. */
  readonly reducedMotion?: 'reduce' | 'no-preference';
}

/** Serves the page to the tests of one file, from before the first until after the last. begun: what else comes before them. */
export function standInScreen(begun: (screen: StandInScreen) => Promise<void> | void): void {
  let server: PreviewServer | undefined;
  let context: BrowserContext | undefined;
  beforeAll(async () => {
    const outDir = await builtPage();
    server = await preview({ configFile, build: { outDir }, preview: { port: 0, host: '127.0.0.1' } });
    const address = `http://127.0.0.1:${(server.httpServer.address() as AddressInfo).port}/`;
    const opened = await (await sharedChromium()).newContext();
    context = opened;
    let page: Page | undefined;
    const open = async (query: string, look: Look = {}): Promise<Page> => {
      page ??= await opened.newPage();
      await openAnew(page, `${address}?${query}`, look);
      return page;
    };
    await begun({ address, open });
  }, BEGIN_MS);
  afterAll(async () => {
    await context?.close();
    await server?.close();
  });
}

async function openAnew(page: Page, url: string, look: Look): Promise<void> {
  await page.setViewportSize(look.viewport ?? { width: 1280, height: 800 });
  await page.emulateMedia({ colorScheme: look.colorScheme ?? 'light', reducedMotion: look.reducedMotion ?? null });
  if (page.url().startsWith('http')) await page.evaluate(() => localStorage.clear());
  await page.goto(url);
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
    await asForUse(() => build({ configFile, logLevel: 'warn', build: { outDir, emptyOutDir: true, minify: false } }));
    renameSync(outDir, page);
    return page;
  } catch (error) {
    mkdirSync(failed);
    throw error;
  }
}

/**
 * Vite takes React's form for use, not the one for development, only where the surroundings say so; a test's say `test`.
 * Measured on the screens that are judged: twice the processor time with the form for development.
 */
async function asForUse(work: () => Promise<unknown>): Promise<void> {
  const before = process.env['NODE_ENV'];
  process.env['NODE_ENV'] = 'production';
  try {
    await work();
  } finally {
    process.env['NODE_ENV'] = before;
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
